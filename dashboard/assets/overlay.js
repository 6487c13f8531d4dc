/* The overlay's own choices come in its address: ?background=solid and ?units=feet or ?units=metres. */
window.station = window.station || {};

(() => {
  "use strict";
  if (!document.body.classList.contains("overlay")) return;
  const wanted = new URLSearchParams(window.location.search);
  document.body.classList.toggle("solid", wanted.get("background") === "solid");
  const units = wanted.get("units");
  if (units === "feet" || units === "metres") station.settings.fix("units", units);
})();
