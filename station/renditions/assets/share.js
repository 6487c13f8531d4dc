/* Plays one flight from the figures in this same file. Asks for nothing, keeps nothing. */
(() => {
  "use strict";
  const flight = JSON.parse(document.getElementById("flight").textContent);
  const root = document.documentElement;
  const byId = (id) => document.getElementById(id);
  const FEET = 1 / 0.3048; // the international foot, exact (1959 agreement)
  const MPH = 3600 / 1609.344; // the international mile, exact
  const SYSTEMS = {
    metres: { height: 1, heightUnit: "m", speed: 1, speedUnit: "m/s", name: "m, m/s" },
    feet: { height: FEET, heightUnit: "ft", speed: MPH, speedUnit: "mph", name: "ft, mph" },
  };
  const STILL_MPS = 0.5;
  const KEY_STEP_S = 1;

  /* Figures come as whole numbers, each the difference from the one before. */
  const unpack = (differences, unit) => {
    let sum = 0;
    return Float64Array.from(differences, (d) => (sum += d) * unit);
  };
  const times = unpack(flight.t_ms, 0.001);
  const heights = unpack(flight.altitude_dm, 0.1);
  const speeds = unpack(flight.velocity_dmps, 0.1);
  const first = Math.max(times[0], -2);
  const last = times[times.length - 1];

  const sky = byId("sky");
  const play = byId("play");
  const position = byId("position");
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  const dark = matchMedia("(prefers-color-scheme: dark)");

  let now = first;
  let playing = false;
  let before = 0; // when the last frame was drawn
  let said = "";

  /* -- the flight at a moment -- */

  const indexAt = (t) => {
    let low = 0;
    let high = times.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (times[middle] <= t) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  };

  const heard = (t) => !flight.gaps.some(([from, to]) => t > from && t < to);

  const at = (t) => {
    const i = Math.max(0, Math.min(times.length - 2, indexAt(t)));
    if (times.length < 2) return { h: heights[0], v: speeds[0] };
    const share = Math.max(0, Math.min(1, (t - times[i]) / (times[i + 1] - times[i])));
    const between = (values) => values[i] + share * (values[i + 1] - values[i]);
    return { h: between(heights), v: between(speeds) };
  };

  const spanAt = (t) => flight.spans.reduce((found, span) => (span.from_s <= t + 1e-6 ? span : found), flight.spans[0]);

  /* -- words and figures -- */

  const system = () => SYSTEMS[root.dataset.units];
  const whole = (value) => (Math.round(value) || 0).toLocaleString("en-US");
  const fine = (value) => (Math.abs(value) < 20 ? (Math.round(value * 10) / 10 || 0).toFixed(1) : whole(value));

  const clock = (t) => {
    const tenths = Math.floor(Math.abs(t) * 10 + 1e-6);
    const seconds = ((tenths % 600) / 10).toFixed(1).padStart(4, "0");
    return `T${t < 0 && tenths ? "−" : "+"}${String(Math.floor(tenths / 600)).padStart(2, "0")}:${seconds}`;
  };

  const say = (id, text) => {
    const element = byId(id);
    if (element.textContent !== text) element.textContent = text;
  };

  const tell = () => {
    const { h, v } = at(now);
    const u = system();
    const known = heard(now);
    const span = spanAt(now);
    const moving = Math.abs(v) >= STILL_MPS ? v : 0;
    const height = known ? whole(Math.max(0, h) * u.height) : "–";
    const speed = known ? fine(Math.abs(moving) * u.speed) : "–";
    const phase = known ? span.words : "Nothing heard";
    say("clock", clock(now));
    say("phase", phase);
    say("height", height);
    say("height-unit", ` ${u.heightUnit}`);
    say("speed-label", moving === 0 || !known ? "Vertical speed" : moving > 0 ? "Going up ▲" : "Coming down ▼");
    say("speed", speed);
    say("speed-unit", ` ${u.speedUnit}`);
    position.value = now;
    const text = `${clock(now)}, ${phase}, ${known ? `${height} ${u.heightUnit}, ${speed} ${u.speedUnit}` : "no figures"}`;
    position.setAttribute("aria-valuetext", text);
    if (playing && phase !== said) say("announced", phase);
    said = phase;
    play.textContent = playing ? "Pause" : now >= last ? "Play again" : "Play";
  };

  /* -- drawing -- */

  let view = null; // what does not change between frames: sizes, scales, the picture of the curves

  const ticks = (low, high, about) => {
    const rough = Math.max(high - low, 1e-9) / about;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= rough * (1 - 1e-9));
    const found = [];
    for (let k = Math.ceil(low / step - 1e-9); k * step <= high * (1 + 1e-9); k += 1) found.push(k * step);
    return found;
  };

  const colours = () => {
    const style = getComputedStyle(root);
    const names = ["paper", "ink", "soft", "rule", "grid", "altitude", "velocity", "good", "bad"];
    return Object.fromEntries(names.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
  };

  const extent = (values) => values.reduce(([low, high], v) => [Math.min(low, v), Math.max(high, v)], [0, 0]);

  const measure = () => {
    const width = sky.clientWidth;
    const height = sky.clientHeight;
    const u = system();
    const [, top] = extent(heights);
    const [slow, fast] = extent(speeds);
    const strip = Math.max(64, Math.min(170, 0.16 * width));
    const axis = 46;
    const speedHeight = Math.max(60, 0.24 * height);
    const box = { left: strip + axis, right: width - 8, top: 34, bottom: height - speedHeight - 58 };
    const speedBox = { ...box, top: box.bottom + 30, bottom: height - 24 };
    const room = Math.max(top, 3) * 1.08;
    const [least, most] = [slow - 0.06 * (fast - slow + 1), fast + 0.06 * (fast - slow + 1)];
    return {
      width, height, u, strip, box, speedBox,
      c: colours(),
      room, least, most,
      x: (t) => box.left + ((box.right - box.left) * (t - first)) / (last - first || 1),
      y: (m) => box.bottom - ((box.bottom - box.top) * Math.max(0, m)) / room,
      yv: (v) => speedBox.bottom - ((speedBox.bottom - speedBox.top) * (v - least)) / (most - least),
      timeAt: (x) => first + ((last - first) * (x - box.left)) / (box.right - box.left),
    };
  };

  const sheet = (width, height) => {
    const made = document.createElement("canvas");
    const scale = window.devicePixelRatio || 1;
    made.width = Math.round(width * scale);
    made.height = Math.round(height * scale);
    made.getContext("2d").scale(scale, scale);
    return made;
  };

  const text = (g, words, x, y, { colour, size = 12, weight = 400, align = "left" }) => {
    g.fillStyle = colour;
    g.font = `${weight} ${size}px system-ui, sans-serif`;
    g.textAlign = align;
    g.fillText(words, x, y);
  };

  const lineOf = (g, w, values, scale, colour) => {
    g.strokeStyle = colour;
    g.lineWidth = 2.5;
    g.lineJoin = "round";
    g.beginPath();
    let gap = 0;
    let up = false;
    for (let i = 0; i < times.length; i += 1) {
      if (times[i] < first) continue;
      while (gap < flight.gaps.length && times[i] >= flight.gaps[gap][1] - 1e-6) {
        gap += 1;
        up = false;
      }
      const [x, y] = [w.x(times[i]), scale(values[i])];
      if (up) g.lineTo(x, y);
      else g.moveTo(x, y);
      up = true;
    }
    g.stroke();
  };

  const grid = (g, w) => {
    const { c, box, speedBox, u } = w;
    g.lineWidth = 1;
    const rule = (x0, y0, x1, y1, colour) => {
      g.strokeStyle = colour;
      g.beginPath();
      g.moveTo(x0, Math.round(y0) + 0.5);
      g.lineTo(x1, Math.round(y1) + 0.5);
      g.stroke();
    };
    for (const value of ticks(0, w.room * u.height, 5)) {
      const y = w.y(value / u.height);
      rule(box.left, y, box.right, y, value === 0 ? c.ink : c.grid);
      text(g, whole(value), box.left - 6, y + 4, { colour: c.soft, align: "right" });
    }
    for (const value of ticks(w.least * u.speed, w.most * u.speed, 3)) {
      const y = w.yv(value / u.speed);
      rule(speedBox.left, y, speedBox.right, y, Math.abs(value) < 1e-9 ? c.ink : c.grid);
      text(g, whole(value), speedBox.left - 6, y + 4, { colour: c.soft, align: "right" });
    }
    for (const value of ticks(first, last, Math.max(3, (box.right - box.left) / 90))) {
      text(g, `${value} s`, w.x(value), w.height - 6, { colour: c.soft, align: "center" });
    }
    for (const [from, to] of flight.gaps) {
      g.fillStyle = c.grid;
      g.fillRect(w.x(from), box.top, w.x(to) - w.x(from), box.bottom - box.top);
      g.fillRect(w.x(from), speedBox.top, w.x(to) - w.x(from), speedBox.bottom - speedBox.top);
    }
    // The ground, under the rocket's own strip.
    rule(8, box.bottom, w.strip, box.bottom, c.ink);
    text(g, `Altitude, ${u.heightUnit}`, box.right, box.top - 20, { colour: c.soft, weight: 600, align: "right" });
    text(g, `Vertical speed, ${u.speedUnit}`, box.right, speedBox.top - 6, { colour: c.soft, weight: 600, align: "right" });
  };

  /* Events' names over the plot, the weightiest first, in two rows so that none covers another or is left out if it fits. */
  const WEIGHTS = ["Apogee", "Main", "Drogue", "Touchdown", "Burnout", "Liftoff"];
  const names = (g, w) => {
    const rows = [[], []];
    g.strokeStyle = w.c.rule;
    g.lineWidth = 1;
    g.setLineDash([3, 4]);
    for (const event of flight.events) {
      g.beginPath();
      g.moveTo(w.x(event.t_s), w.box.top - 2);
      g.lineTo(w.x(event.t_s), w.speedBox.bottom);
      g.stroke();
    }
    g.setLineDash([]);
    g.font = "600 12px system-ui, sans-serif";
    for (const event of [...flight.events].sort((a, b) => WEIGHTS.indexOf(a.label) - WEIGHTS.indexOf(b.label))) {
      const wide = g.measureText(event.label).width;
      const left = Math.min(w.x(event.t_s) + 3, w.box.right - wide);
      const row = rows.findIndex((taken) => taken.every(([from, to]) => left > to + 6 || left + wide < from - 6));
      if (row < 0) continue;
      rows[row].push([left, left + wide]);
      g.fillStyle = w.c.paper;
      g.fillRect(left - 1, w.box.top - 12 + 14 * row, wide + 2, 14);
      text(g, event.label, left, w.box.top - 1 + 14 * row, { colour: w.c.ink, weight: 600 });
    }
  };

  const prepare = () => {
    if (!sky.clientWidth || !sky.clientHeight) return; // on paper there is no player
    view = measure();
    sky.width = Math.round(view.width * (window.devicePixelRatio || 1));
    sky.height = Math.round(view.height * (window.devicePixelRatio || 1));
    view.picture = sheet(view.width, view.height);
    const g = view.picture.getContext("2d");
    grid(g, view);
    lineOf(g, view, heights, view.y, view.c.altitude);
    lineOf(g, view, speeds, view.yv, view.c.velocity);
    names(g, view);
    draw();
  };

  /* A sketch of the rocket. How it hung and turned was not measured. */
  const rocket = (g, w, x, y, span, known) => {
    const { c } = w;
    const size = Math.max(9, Math.min(15, w.strip / 9));
    g.save();
    g.translate(x, y);
    const open = flight.parachutes.filter((p) => p.t_s <= now + 1e-6 && span.kind !== "down");
    if (span.kind === "down") {
      g.translate(0, -0.4 * size);
      g.rotate(Math.PI / 2);
    } else if (open.length) {
      canopy(g, c, size, open[open.length - 1]);
    } else if (["descent", "end"].includes(span.kind)) {
      g.rotate(Math.PI / 3);
    }
    g.fillStyle = known ? c.ink : c.paper;
    g.strokeStyle = c.ink;
    g.lineWidth = 1.5;
    g.beginPath();
    g.moveTo(0, -1.9 * size);
    g.quadraticCurveTo(0.5 * size, -1.2 * size, 0.42 * size, -0.5 * size);
    g.lineTo(0.42 * size, 0.45 * size);
    g.lineTo(0.95 * size, size);
    g.lineTo(-0.95 * size, size);
    g.lineTo(-0.42 * size, 0.45 * size);
    g.lineTo(-0.42 * size, -0.5 * size);
    g.quadraticCurveTo(-0.5 * size, -1.2 * size, 0, -1.9 * size);
    g.fill();
    g.stroke();
    if (span.kind === "thrust") {
      const flicker = calm.matches ? 1 : 1 + 0.25 * Math.sin(now * 60);
      g.fillStyle = c.velocity;
      g.beginPath();
      g.moveTo(-0.35 * size, 1.05 * size);
      g.lineTo(0.35 * size, 1.05 * size);
      g.lineTo(0, (1.2 + 1.3 * flicker) * size);
      g.fill();
    }
    g.restore();
  };

  const canopy = (g, c, size, parachute) => {
    const wide = parachute.role === "main" ? 2.6 * size : 1.4 * size;
    const up = -4.4 * size;
    g.strokeStyle = c.ink;
    g.lineWidth = 1.2;
    g.beginPath();
    for (const side of [-1, 0, 1]) {
      g.moveTo(0, -1.9 * size);
      g.lineTo(side * wide, up);
    }
    g.stroke();
    g.beginPath();
    g.arc(0, up, wide, Math.PI, 2 * Math.PI);
    g.closePath();
    if (parachute.kind === "good") {
      g.fillStyle = c.good;
      g.fill();
    } else {
      g.setLineDash([4, 3]);
      g.fillStyle = c.paper;
      g.fill();
      g.strokeStyle = c.bad;
      g.lineWidth = 2;
    }
    g.stroke();
    g.setLineDash([]);
  };

  const draw = () => {
    if (!view) return;
    const w = view;
    const g = sky.getContext("2d");
    const scale = window.devicePixelRatio || 1;
    g.setTransform(scale, 0, 0, scale, 0, 0);
    g.clearRect(0, 0, w.width, w.height);
    g.drawImage(w.picture, 0, 0, w.width, w.height);
    const { h, v } = at(now);
    const known = heard(now);
    const [x, y] = [w.x(now), w.y(h)];
    g.strokeStyle = w.c.ink;
    g.lineWidth = 1.5;
    g.beginPath();
    g.moveTo(x, w.box.top);
    g.lineTo(x, w.speedBox.bottom);
    g.stroke();
    if (known) {
      g.setLineDash([2, 4]);
      g.beginPath();
      g.moveTo(w.strip / 2 + 20, y);
      g.lineTo(x, y);
      g.stroke();
      g.setLineDash([]);
      for (const [level, colour] of [[y, w.c.altitude], [w.yv(v), w.c.velocity]]) {
        g.fillStyle = colour;
        g.strokeStyle = w.c.paper;
        g.lineWidth = 2;
        g.beginPath();
        g.arc(x, level, 7, 0, 2 * Math.PI);
        g.fill();
        g.stroke();
      }
    }
    rocket(g, w, w.strip / 2, y - 10, spanAt(now), known);
  };

  /* -- playing -- */

  const show = () => {
    tell();
    draw();
  };

  const frame = (stamp) => {
    if (!playing) return;
    // A page that was asleep goes on from where it was, not from where it would be.
    const passed = Math.min(0.25, (stamp - before) / 1000);
    before = stamp;
    now = Math.min(last, now + passed * Number(byId("pace").value));
    if (now >= last) playing = false;
    show();
    if (playing) requestAnimationFrame(frame);
  };

  const start = (on) => {
    if (on && now >= last) now = first;
    playing = on;
    if (on) {
      before = performance.now();
      requestAnimationFrame(frame);
    }
    show();
  };

  const seek = (t) => {
    now = Math.max(first, Math.min(last, t));
    show();
  };

  const useUnits = (name) => {
    root.dataset.units = name;
    // Every figure stands in both systems of units; one is shown.
    for (const each of Object.keys(SYSTEMS)) {
      for (const words of document.querySelectorAll(`.${each}`)) words.hidden = each !== name;
    }
    const other = SYSTEMS[name === "feet" ? "metres" : "feet"].name;
    byId("units").textContent = other;
    byId("units").setAttribute("aria-label", `Units: change to ${other}`);
    prepare();
    tell();
  };

  const steer = () => {
    play.addEventListener("click", () => start(!playing));
    position.addEventListener("input", () => seek(Number(position.value)));
    byId("units").addEventListener("click", () => useUnits(root.dataset.units === "feet" ? "metres" : "feet"));
    for (const button of document.querySelectorAll("#jumps button")) {
      button.addEventListener("click", () => seek(Number(button.dataset.t)));
    }
    const drag = (event) => seek(view.timeAt(event.clientX - sky.getBoundingClientRect().left));
    sky.addEventListener("pointerdown", (event) => {
      if (event.button !== 0) return;
      sky.setPointerCapture(event.pointerId);
      drag(event);
    });
    sky.addEventListener("pointermove", (event) => {
      if (sky.hasPointerCapture(event.pointerId)) drag(event);
    });
    document.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      if (event.key === "u") byId("units").click();
      if (event.target.closest("button, select, input, a")) return;
      if (event.key === " ") start(!playing);
      else if (event.key === "ArrowRight") seek(now + KEY_STEP_S);
      else if (event.key === "ArrowLeft") seek(now - KEY_STEP_S);
      else if (event.key === "Home") seek(first);
      else if (event.key === "End") seek(last);
      else return;
      event.preventDefault();
    });
    dark.addEventListener("change", prepare);
    new ResizeObserver(prepare).observe(sky);
  };

  byId("still").hidden = true;
  byId("player").hidden = false;
  byId("units").hidden = false;
  position.min = first;
  position.max = last;
  if (root.dataset.unitsBy === "reader" && /^en-(US|LR)$|^my\b/i.test(navigator.language || "")) {
    root.dataset.units = "feet";
  }
  useUnits(root.dataset.units);
  steer();
})();
