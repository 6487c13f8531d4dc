/* A spectator's curve: altitude alone, one path, no library. */
window.station = window.station || {};

(() => {
  "use strict";
  const POINTS = 150;
  const EVERY_MS = 200;
  const MOST_AHEAD = 8; // times the flight so far, as on the curve
  const METRES = { height: { factor: 1 }, speed: { factor: 1 } };

  let drawnAt = -Infinity;
  let drawnVersion = -1;
  let drawnOutlook = null;

  const line = (className) => {
    const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("class", className);
    return path;
  };

  const draw = (state) => {
    const svg = document.getElementById("sketch");
    const { store } = station.stream;
    if (!svg || performance.now() - drawnAt < EVERY_MS) return;
    if (store.version === drawnVersion && state.outlook === drawnOutlook) return;
    drawnAt = performance.now();
    drawnVersion = store.version;
    drawnOutlook = state.outlook;
    const [times, heights] = store.columns;
    if (!times.length || state.liftoff_t_ms === null) {
      svg.replaceChildren();
      return;
    }
    const first = (times[0] - state.liftoff_t_ms) / 1000;
    const last = (times[times.length - 1] - state.liftoff_t_ms) / 1000;
    const end = Math.max(last, first + 20, Math.min(station.ahead.end(state) || 0, MOST_AHEAD * last));
    const top = Math.max(state.highest_m || 0, 20, station.ahead.top(state, "altitude"));
    const place = (t, m, n) =>
      `${n ? "L" : "M"}${(((t - first) / (end - first)) * 1000).toFixed(1)} ${(100 - (m / top) * 100).toFixed(1)}`;
    const kept = station.thin.rowsToKeep(times, [heights], 0, times.length, POINTS);
    const flown = kept.map((i, n) => place((times[i] - state.liftoff_t_ms) / 1000, heights[i], n));
    const { x, y } = station.ahead.traces(state, METRES, [first, end])["altitude ahead"];
    if (!svg.children.length) {
      svg.setAttribute("viewBox", "0 -4 1000 108");
      svg.append(line("flown"), line("ahead"));
    }
    svg.querySelector(".flown").setAttribute("d", flown.join(""));
    svg.querySelector(".ahead").setAttribute("d", x.map((t, n) => place(t, y[n], n)).join(""));
    station.panels.say("sketch-top", `Altitude so far, up to ${station.units.height(state.highest_m || 0)}`);
  };

  station.sketch = { refresh: draw };
})();
