/* Curves of several flights laid over each other from liftoff, as SVG. A flight keeps its colour, dashes and number. */
(() => {
  "use strict";
  const { byId, make } = station.front;
  const NS = "http://www.w3.org/2000/svg";
  const MOST = 6;
  // Okabe and Ito's palette (2008); each with dashes of its own, so that colour is not the only sign.
  const LOOKS = [
    { colour: "var(--altitude)", dash: "" },
    { colour: "var(--velocity)", dash: "9 4" },
    { colour: "var(--acceleration)", dash: "2 4" },
    { colour: "#cc79a7", dash: "12 4 2 4" },
    { colour: "var(--ink)", dash: "5 3" },
    { colour: "var(--faint)", dash: "16 3" },
  ];
  const LEFT = 58;
  const RIGHT = 14;
  const TOP = 16;
  const BOTTOM = 26;
  const drawn = [];
  let what = "altitude";
  let forget = () => {};

  const svg = (tag, attributes, text) => {
    const element = document.createElementNS(NS, tag);
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
    if (text !== undefined) element.textContent = text;
    return element;
  };

  /* Steps of 1, 2 or 5 times a power of ten: some `wanted` of them. */
  const ticks = (low, high, wanted) => {
    const raw = (high - low) / wanted || 1;
    const power = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((m) => m * power).find((s) => s >= raw);
    const found = [];
    for (let k = Math.ceil(low / step); k * step <= high + 1e-9; k += 1) found.push(k * step || 0);
    return found;
  };

  const unit = () => (what === "altitude" ? station.units.system().height : station.units.system().speed);
  const values = (one) => (what === "altitude" ? one.curve.altitude_m : one.curve.velocity_mps).map((v) => (v === null ? null : v * unit().factor));

  /* The value of a curve at a moment, between its points; null outside it or in a gap. */
  const at = (one, t) => {
    const times = one.curve.t_s;
    let low = 0;
    let high = times.length - 1;
    if (high < 1 || t < times[0] || t > times[high]) return null;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (times[middle] <= t) low = middle;
      else high = middle;
    }
    const all = values(one);
    if (all[low] === null || all[high] === null) return null;
    const span = times[high] - times[low];
    return span > 0 ? all[low] + ((all[high] - all[low]) * (t - times[low])) / span : all[low];
  };

  const path = (one, x, y) => {
    let text = "";
    let pen = "M";
    const all = values(one);
    one.curve.t_s.forEach((t, k) => {
      if (all[k] === null) {
        pen = "M";
        return;
      }
      text += `${pen}${x(t).toFixed(1)} ${y(all[k]).toFixed(1)}`;
      pen = "L";
    });
    return text;
  };

  const draw = () => {
    byId("curves").hidden = !drawn.length;
    byId("curves-hint").hidden = drawn.length > 0;
    if (!drawn.length) return;
    const chart = byId("chart");
    const width = chart.clientWidth || 600;
    const height = chart.clientHeight || 300;
    const all = drawn.flatMap(values).filter((v) => v !== null);
    const end = Math.max(...drawn.map((one) => one.curve.t_s.at(-1)));
    const low = Math.min(0, ...all);
    const high = Math.max(1, ...all) + 0.06 * (Math.max(1, ...all) - low);
    const x = (t) => LEFT + ((width - LEFT - RIGHT) * (t + 1)) / (end + 1);
    const y = (v) => height - BOTTOM - ((height - TOP - BOTTOM) * (v - low)) / (high - low);
    chart.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const parts = [];
    for (const v of ticks(low, high, height / 48)) {
      parts.push(svg("line", { class: "grid", x1: LEFT, x2: width - RIGHT, y1: y(v), y2: y(v) }));
      parts.push(svg("text", { x: LEFT - 6, y: y(v) + 4, "text-anchor": "end" }, v.toLocaleString("en-US")));
    }
    for (const t of ticks(0, end, width / 90)) {
      parts.push(svg("line", { class: "grid", x1: x(t), x2: x(t), y1: TOP, y2: height - BOTTOM }));
      parts.push(svg("text", { x: x(t), y: height - 8, "text-anchor": "middle" }, `${t}`));
    }
    parts.push(svg("line", { class: "axis", x1: LEFT, x2: width - RIGHT, y1: y(0), y2: y(0) }));
    parts.push(svg("text", { x: 4, y: 12 }, `${what === "altitude" ? "Altitude" : "Vertical speed"}, ${unit().unit}`));
    parts.push(svg("text", { x: width - RIGHT, y: height - 8, "text-anchor": "end" }, "s"));
    for (const one of drawn) {
      const look = LOOKS[one.look];
      parts.push(svg("path", { class: "curve-line", d: path(one, x, y), style: `stroke: ${look.colour}`, "stroke-dasharray": look.dash }));
    }
    const moment = Number(byId("moment").value);
    parts.push(svg("line", { class: "moment-line", x1: x(moment), x2: x(moment), y1: TOP, y2: height - BOTTOM }));
    for (const one of drawn) {
      // Each number somewhere else along its curve, or those of like flights would lie on each other.
      const t = one.curve.t_s.at(-1) * (0.2 + 0.1 * one.look);
      const v = at(one, t);
      if (v !== null) parts.push(svg("text", { class: "number-of", x: x(t) + 5, y: y(v) - 5 }, `${one.look + 1}`));
    }
    chart.replaceChildren(...parts);
    chart.setAttribute("aria-label", `${what === "altitude" ? "Altitude" : "Vertical speed"} over time of ${drawn.map((one) => one.name).join("; ")}`);
    drawKey(moment);
  };

  const drawKey = (moment) => {
    byId("moment-words").textContent = `${moment.toFixed(1)} s`;
    const lines = byId("key").children;
    drawn.forEach((one, k) => {
      const value = at(one, moment);
      lines[k].querySelector(".value").textContent = value === null ? "–" : `${station.units.whole(value)} ${unit().unit}`;
    });
  };

  const renewKey = () => {
    byId("key").replaceChildren(
      ...drawn.map((one) => {
        const line = make("li");
        const look = LOOKS[one.look];
        const swatch = svg("svg", { viewBox: "0 0 40 10", "aria-hidden": "true" });
        swatch.append(svg("line", { x1: 0, x2: 40, y1: 5, y2: 5, "stroke-width": 3, style: `stroke: ${look.colour}`, "stroke-dasharray": look.dash }));
        const remove = make("button", "", "Remove");
        remove.type = "button";
        remove.setAttribute("aria-label", `Remove the curve of ${one.name}`);
        remove.addEventListener("click", () => forget(one.file));
        line.append(make("b", "", `${one.look + 1}`), swatch, make("span", "name", one.name), make("span", "value", "–"), remove);
        return line;
      }),
    );
    const slider = byId("moment");
    slider.max = drawn.length ? Math.max(...drawn.map((one) => one.curve.t_s.at(-1))).toFixed(1) : 1;
    draw();
  };

  const choose = (name) => {
    what = name;
    byId("draw-altitude").setAttribute("aria-pressed", String(name === "altitude"));
    byId("draw-speed").setAttribute("aria-pressed", String(name === "speed"));
    draw();
  };

  station.chart = {
    MOST,
    draw,
    isFull: () => drawn.length >= MOST,

    add(file, name, curve) {
      const taken = drawn.map((one) => one.look);
      const look = LOOKS.findIndex((_, k) => !taken.includes(k));
      drawn.push({ file, name, curve, look });
      renewKey();
    },

    remove(file) {
      const place = drawn.findIndex((one) => one.file === file);
      if (place >= 0) drawn.splice(place, 1);
      renewKey();
    },

    /* `listener(file)` is called when a curve is to go. */
    onForget: (listener) => {
      forget = listener;
    },
  };

  byId("draw-altitude").addEventListener("click", () => choose("altitude"));
  byId("draw-speed").addEventListener("click", () => choose("speed"));
  byId("moment").addEventListener("input", draw);
  byId("chart").addEventListener("pointermove", (event) => {
    const box = byId("chart").getBoundingClientRect();
    const end = Number(byId("moment").max);
    const t = ((event.clientX - box.left - LEFT) / (box.width - LEFT - RIGHT)) * (end + 1) - 1;
    byId("moment").value = Math.min(Math.max(t, 0), end);
    draw();
  });
  new ResizeObserver(draw).observe(byId("chart"));
})();
