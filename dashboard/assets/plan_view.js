/* A plan of the ground: north up, the pad in the middle of its rings, the way over the ground, the rocket with its error.
   No map: there is no internet on the field. Everything comes in as metres north and east of the pad. */
window.station = window.station || {};

(() => {
  "use strict";
  const SVG = "http://www.w3.org/2000/svg";
  const LEAST_SPAN_M = 40;
  const LEAST_RADIUS_PX = 3;
  const RADIAN = Math.PI / 180;

  const make = (tag, attributes, text) => {
    const made = document.createElementNS(SVG, tag);
    Object.entries(attributes).forEach(([name, value]) => made.setAttribute(name, value));
    if (text !== undefined) made.textContent = text;
    return made;
  };

  const away = (range, bearing) => ({
    north: range * Math.cos(bearing * RADIAN),
    east: range * Math.sin(bearing * RADIAN),
  });

  /* The box that holds everything, and how its metres become pixels. */
  const framed = (model, width, height) => {
    const box = { south: 0, north: 0, west: 0, east: 0 };
    const hold = ({ north, east }, radius = 0) => {
      box.north = Math.max(box.north, north + radius);
      box.south = Math.min(box.south, north - radius);
      box.east = Math.max(box.east, east + radius);
      box.west = Math.min(box.west, east - radius);
    };
    model.points.forEach(([north, east]) => hold({ north, east }));
    [model.rocket, model.onward].forEach((spot) => spot && hold(spot, spot.radius));
    if (model.wedge) cornersOf(model.wedge).forEach((corner) => hold(corner));
    const room = Math.min(34, 0.1 * Math.min(width, height) + 14);
    const spanNorth = Math.max(box.north - box.south, LEAST_SPAN_M);
    const spanEast = Math.max(box.east - box.west, LEAST_SPAN_M);
    const scale = Math.min((width - 2 * room) / spanEast, (height - 2 * room) / spanNorth);
    const middle = { north: (box.north + box.south) / 2, east: (box.east + box.west) / 2 };
    return {
      scale,
      x: (east) => width / 2 + (east - middle.east) * scale,
      y: (north) => height / 2 - (north - middle.north) * scale,
    };
  };

  const cornersOf = ({ least, most, from, to }) => {
    if (from === null) return [0, 90, 180, 270].map((bearing) => away(most, bearing));
    const turn = (to - from + 360) % 360;
    const bearings = Array.from({ length: 13 }, (_, i) => from + (turn * i) / 12);
    return bearings.flatMap((bearing) => [away(least, bearing), away(most, bearing)]);
  };

  /* 1, 2 or 5 times a power of ten, in the viewer's own unit, so that two to five rings are seen. */
  const ringStep = (farthest) => {
    const rough = farthest / 4;
    const power = 10 ** Math.floor(Math.log10(rough));
    return [1, 2, 5, 10].map((times) => times * power).find((step) => step >= rough);
  };

  const rings = (frame, width, height, factor, unit, avoid) => {
    const pad = { x: frame.x(0), y: frame.y(0) };
    const corners = [[0, 0], [width, 0], [0, height], [width, height]];
    const farthest = Math.max(...corners.map(([x, y]) => Math.hypot(x - pad.x, y - pad.y))) / frame.scale;
    const step = ringStep(farthest * factor) / factor;
    const made = [];
    for (let radius = step; radius < farthest; radius += step) {
      made.push(make("circle", { class: "ring", cx: pad.x, cy: pad.y, r: radius * frame.scale }));
      const text = `${Math.round(radius * factor).toLocaleString("en-US")} ${unit}`;
      const spot = labelSpot(pad, radius * frame.scale, 7 * text.length, width, height, avoid);
      if (spot) {
        avoid.push(spot);
        made.push(make("text", { class: "ring-label", x: spot.x, y: spot.y + 4, "text-anchor": "middle" }, text));
      }
    }
    return made;
  };

  /* Where on its ring a label stands clearest of what is drawn; null if nowhere. */
  const labelSpot = (pad, radius, long, width, height, avoid) => {
    let best = null;
    for (let turn = 0; turn < 360; turn += 15) {
      const spot = { x: pad.x + radius * Math.sin(turn * RADIAN), y: pad.y - radius * Math.cos(turn * RADIAN) };
      const inside = spot.x > long / 2 && spot.x < width - long / 2 && spot.y > 8 && spot.y < height - 8;
      const clear = inside ? Math.min(...avoid.map(({ x, y }) => Math.hypot(x - spot.x, y - spot.y))) : -1;
      if (clear > 20 && (best === null || clear > best.clear)) best = { ...spot, clear };
    }
    return best;
  };

  const arc = (frame, range, from, to, first) => {
    const [start, end] = [away(range, from), away(range, to)];
    const large = Math.abs(to - from) > 180 ? 1 : 0;
    const begin = `${first ? "M" : "L"}${frame.x(start.east)} ${frame.y(start.north)}`;
    const radius = range * frame.scale;
    return `${begin}A${radius} ${radius} 0 ${large} ${to > from ? 1 : 0} ${frame.x(end.east)} ${frame.y(end.north)}`;
  };

  const wedge = (frame, { least, most, from, to }) => {
    if (from === null) {
      return [least, most].map((radius) =>
        make("circle", { class: "wedge-edge", cx: frame.x(0), cy: frame.y(0), r: radius * frame.scale }),
      );
    }
    const end = from + ((to - from + 360) % 360);
    const back = least * frame.scale > 1 ? arc(frame, least, end, from, false) : `L${frame.x(0)} ${frame.y(0)}`;
    return [make("path", { class: "wedge", d: `${arc(frame, most, from, end, true)}${back}Z` })];
  };

  const spot = (frame, { north, east, radius }, name) => [
    make("circle", {
      class: `${name}-error`,
      cx: frame.x(east),
      cy: frame.y(north),
      r: Math.max(LEAST_RADIUS_PX + 3, radius * frame.scale),
    }),
    make("circle", { class: `${name}-spot`, cx: frame.x(east), cy: frame.y(north), r: LEAST_RADIUS_PX + 2 }),
  ];

  /* Beside the spot, on the side where there is more room. */
  const label = (frame, { north, east, radius }, text, name, width) => {
    const x = frame.x(east);
    const right = x < width / 2;
    const off = Math.max(LEAST_RADIUS_PX + 3, radius * frame.scale) + 5;
    return make(
      "text",
      { class: name, x: right ? x + off : x - off, y: frame.y(north) + 5, "text-anchor": right ? "start" : "end" },
      text,
    );
  };

  const north = () => [
    make("path", { class: "north", d: "M16 26V8M10 14L16 7L22 14" }),
    make("text", { class: "north-label", x: 16, y: 40, "text-anchor": "middle" }, "N"),
  ];

  station.planView = {
    away,

    /* model: {pad, points [[north, east]], rocket {north, east, radius, label}, onward (the same), wedge {least, most, from, to},
       height {factor, unit}, old, says}. */
    draw(svg, model) {
      const { width, height } = svg.getBoundingClientRect();
      if (width < 40 || height < 40) return;
      const frame = framed(model, width, height);
      const at = ([northM, eastM]) => ({ x: frame.x(eastM), y: frame.y(northM) });
      const avoid = [...model.points.map(at), { x: 16, y: 20 }];
      [model.rocket, model.onward, { north: 0, east: 0 }].forEach(
        (one) => one && avoid.push({ x: frame.x(one.east), y: frame.y(one.north) }),
      );
      const parts = [];
      if (model.pad) parts.push(...rings(frame, width, height, model.height.factor, model.height.unit, avoid));
      if (model.wedge) parts.push(...wedge(frame, model.wedge));
      if (model.rocket && model.pad) {
        const [x, y] = [frame.x(model.rocket.east), frame.y(model.rocket.north)];
        parts.push(make("path", { class: "walk", d: `M${frame.x(0)} ${frame.y(0)}L${x} ${y}` }));
      }
      if (model.points.length > 1) {
        const steps = model.points.map(at).map(({ x, y }, i) => `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`);
        parts.push(make("path", { class: "way", d: steps.join("") }));
      }
      if (model.onward) {
        const [a, b] = [model.rocket, model.onward];
        parts.push(make("path", { class: "onward", d: `M${frame.x(a.east)} ${frame.y(a.north)}L${frame.x(b.east)} ${frame.y(b.north)}` }));
        parts.push(...spot(frame, b, "onward"), label(frame, { ...b, radius: 0 }, b.label, "onward-label", width));
      }
      if (model.pad) {
        const [x, y] = [frame.x(0), frame.y(0)];
        parts.push(make("path", { class: "pad", d: `M${x - 6} ${y + 5}L${x} ${y - 7}L${x + 6} ${y + 5}Z` }));
        parts.push(label(frame, { north: 0, east: 0, radius: 0 }, "Pad", "pad-label", width));
      }
      if (model.rocket) {
        parts.push(...spot(frame, model.rocket, "rocket"));
        parts.push(label(frame, model.rocket, model.rocket.label, "rocket-label", width));
      }
      svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
      svg.setAttribute("aria-label", model.says);
      svg.classList.toggle("old", model.old);
      svg.replaceChildren(...parts, ...north());
    },
  };
})();
