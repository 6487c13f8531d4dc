/* The events' lines and names over the curve, and where the rocket is. Plain elements: Plotly's own labels cost more
   than the curve itself. */
window.station = window.station || {};

(() => {
  "use strict";
  const ROW_REM = 1.15;
  const TITLE_REM = 7;
  const ROWS = 4;
  const GAP_PX = 6;
  const TITLES = [
    ["yaxis", "height", "Altitude"],
    ["yaxis2", "speed", "Velocity"],
    ["yaxis3", "acceleration", "Acceleration"],
  ];

  let placedKey = "";

  /* Labels from left to right -> a row for each, 0 the lowest, so that none covers another nor another's line:
     one that reaches over its right-hand neighbours stands above them all. Null where there is no row left. */
  const rowsFor = (labels) => {
    const rows = Array(labels.length).fill(0);
    for (let i = labels.length - 1; i >= 0; i -= 1) {
      const end = labels[i].left + labels[i].width + GAP_PX;
      for (let j = i + 1; j < labels.length; j += 1) {
        if (labels[j].left < end && rows[j] !== null) rows[i] = Math.max(rows[i], rows[j] + 1);
      }
      if (rows[i] >= ROWS) rows[i] = null;
    }
    return rows;
  };

  const element = (className, styles, text) => {
    const made = document.createElement("span");
    made.className = className;
    made.textContent = text || "";
    Object.assign(made.style, styles);
    return made;
  };

  /* Plots' names inside them, at the upper right, where flights leave room. */
  const titleOf = (gd, axis, text) => {
    const { _size: size } = gd._fullLayout;
    const top = size.t + size.h * (1 - gd._fullLayout[axis].domain[1]);
    return element("plot-title", { right: `${size.r + 4}px`, top: `${top}px` }, text);
  };

  /* A word beside a place on the altitude plot, left of the title without a time; nothing if it is not in view. */
  const wordAt = (gd, t_s, value, text, className) => {
    const { xaxis, yaxis, _size: size, height } = gd._fullLayout;
    const top = size.t + yaxis.l2p(value * station.units.system().height.factor);
    const x = t_s === null ? size.w - TITLE_REM * station.fit.rem() : xaxis.l2p(t_s);
    const plotBottom = height - size.b - size.h * yaxis.domain[0];
    if (x < 0 || x > size.w || top < size.t || top > plotBottom) return null;
    return element(`word ${className}`, { right: `${size.r + size.w - x}px`, top: `${top}px` }, text);
  };

  const words = (gd, state) => {
    const plan = station.ahead.planLabel(state);
    const hasRoom = gd.clientWidth >= 500;
    const apogee = hasRoom && state.phase === "coast" && state.outlook && state.outlook.apogee;
    return [
      plan && wordAt(gd, null, plan.value, plan.text, "plan-word"),
      apogee && wordAt(gd, apogee.t_s, apogee.altitude_m, "expected", "expected-word"),
    ].filter(Boolean);
  };

  /* A dot where the rocket is, on the altitude plot. */
  const here = (gd, box, state) => {
    let dot = document.getElementById("here");
    if (!dot) {
      dot = element("here", {});
      dot.id = "here";
      box.after(dot);
    }
    const e = state.estimate;
    const { xaxis, yaxis, _size: size, height } = gd._fullLayout;
    const x = e && state.flight_time_s !== null ? xaxis.l2p(state.flight_time_s) : -1;
    const y = e ? yaxis.l2p(e.altitude_m * station.units.system().height.factor) : -1;
    const inside = x >= 0 && x <= size.w && y >= 0 && y <= size.h * (yaxis.domain[1] - yaxis.domain[0]);
    dot.hidden = !inside || state.phase === "down";
    if (inside && height) dot.style.transform = `translate(${size.l + x}px, ${size.t + y}px)`;
  };

  station.marks = {
    rowsFor,

    place(gd) {
      const box = document.getElementById("marks");
      const state = station.stream.state;
      if (!box || !state) return;
      here(gd, box, state);
      const { xaxis, yaxis, _size: size, height } = gd._fullLayout;
      const system = station.units.system();
      const events = state.events.filter((event) => event.t_s !== null);
      const besides = words(gd, state);
      const key = JSON.stringify([
        events.map((e) => [e.name, e.t_s]), xaxis.range, yaxis.range, size.l, size.w, height, system.name,
        besides.map((word) => [word.textContent, word.style.right, word.style.top]),
      ]);
      if (key === placedKey) return;
      placedKey = key;
      const titles = TITLES.map(([axis, kind, title]) => titleOf(gd, axis, `${title}, ${system[kind].unit}`));
      box.replaceChildren(...titles, ...besides);
      const seen = events
        .map((event) => ({ event, x: xaxis.l2p(event.t_s) }))
        .filter(({ x }) => x >= 0 && x <= size.w)
        .sort((a, b) => a.x - b.x);
      const labels = seen.map(({ event, x }) => {
        const label = element("mark-label", {}, station.words.eventLabel(event));
        box.append(label);
        const width = label.offsetWidth;
        return { label, width, left: Math.min(size.l + x + 2, size.l + size.w - width) };
      });
      const rows = rowsFor(labels);
      const rowPx = Math.ceil(ROW_REM * station.fit.rem());
      labels.forEach(({ label, left }, i) => {
        const top = size.t - ((rows[i] || 0) + 1) * rowPx;
        label.hidden = rows[i] === null;
        label.style.left = `${left}px`;
        label.style.top = `${top}px`;
        box.append(
          element("mark-line", { left: `${size.l + seen[i].x}px`, top: `${top}px`, height: `${height - size.b - top}px` }),
        );
      });
    },
  };
})();
