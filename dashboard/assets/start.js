/* Starts the page once its elements are there: Dash puts them in after its own scripts have run. */
window.station = window.station || {};

(() => {
  "use strict";
  const TEXT_MS = 100; // digits that change faster than ten times a second cannot be read
  let due = null;
  let refreshedAt = -Infinity;

  const refresh = () => {
    due = null;
    refreshedAt = performance.now();
    const state = station.stream.state;
    if (!state) return;
    station.panels.refresh();
    station.link.refresh(state);
    if (station.alerts) station.alerts.refresh(state);
    if (station.replay) station.replay.refresh(state);
    if (station.sketch) station.sketch.refresh(state);
    if (station.place) station.place.refresh(state);
  };

  const soon = () => {
    if (due === null) due = setTimeout(refresh, Math.max(0, TEXT_MS - (performance.now() - refreshedAt)));
  };

  const begin = () => {
    station.fit.start();
    station.stream.onMessage((state, { isNew }) => {
      if (station.voice) station.voice.hear(state, isNew);
      soon();
    });
    station.settings.onChange((name, value) => {
      if (name === "theme") document.documentElement.dataset.theme = value;
      station.panels.forget();
      soon();
    });
    // Data grow old without a message too.
    setInterval(soon, 500);
    setInterval(station.link.drawStrip, 1000);
    if (station.controls) station.controls.start();
    if (station.replay) station.replay.start();
    if (station.curve) station.curve.start();
    station.stream.start();
  };

  const wait = () => (document.getElementById("phase") ? begin() : requestAnimationFrame(wait));
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", wait);
  else wait();
})();
