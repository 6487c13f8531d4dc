/* The overlay's own choices come in its address: ?background=solid, and ?units= with the name of a system of units. */
window.station = window.station || {};

(() => {
  "use strict";
  if (!document.body.classList.contains("overlay")) return;
  const wanted = new URLSearchParams(window.location.search);
  document.body.classList.toggle("solid", wanted.get("background") === "solid");
  const units = wanted.get("units");
  if (station.units.isKnown(units)) station.settings.fix("units", units);
})();
