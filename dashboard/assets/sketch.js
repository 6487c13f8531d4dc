/* A spectator's curve: altitude alone, one path, no library. */
window.station = window.station || {};

(() => {
  "use strict";
  const POINTS = 150;
  const EVERY_MS = 200;

  let drawnAt = -Infinity;
  let drawnVersion = -1;

  const draw = (state) => {
    const svg = document.getElementById("sketch");
    const { store } = station.stream;
    if (!svg || performance.now() - drawnAt < EVERY_MS || store.version === drawnVersion) return;
    drawnAt = performance.now();
    drawnVersion = store.version;
    const [times, heights] = store.columns;
    if (!times.length || state.liftoff_t_ms === null) {
      svg.replaceChildren();
      return;
    }
    const top = Math.max(state.highest_m || 0, 20);
    const span = Math.max(times[times.length - 1] - times[0], 20000);
    const kept = station.thin.rowsToKeep(times, [heights], 0, times.length, POINTS);
    const d = kept.map((i, n) => `${n ? "L" : "M"}${((times[i] - times[0]) / span) * 1000} ${100 - (heights[i] / top) * 100}`);
    let path = svg.querySelector("path");
    if (!path) {
      svg.setAttribute("viewBox", "0 -4 1000 108");
      path = document.createElementNS("http://www.w3.org/2000/svg", "path");
      svg.append(path);
    }
    path.setAttribute("d", d.join(""));
    station.panels.say("sketch-top", `top of the picture: ${station.units.height(top)}`);
  };

  station.sketch = { refresh: draw };
})();
