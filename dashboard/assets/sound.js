/* Beeps made in the browser: three for what is urgent, one for the rest. A browser lets no page sound before a touch. */
window.station = window.station || {};

(() => {
  "use strict";
  const AGAIN_MS = 4000;
  const LONGEST_MS = 60000; // an alert that nobody minds for a minute need not go on beeping

  let context = null;
  let urgentSince = null;
  let beepedAt = -Infinity;
  const beeps = { count: 0 };

  const wake = () => {
    const Context = window.AudioContext || window.webkitAudioContext;
    if (!context && Context) context = new Context();
    if (context && context.state === "suspended") context.resume();
    if (station.controls) station.controls.refresh();
  };

  const tone = (start, hz) => {
    const oscillator = context.createOscillator();
    const volume = context.createGain();
    oscillator.type = "square";
    oscillator.frequency.value = hz;
    volume.gain.setValueAtTime(0.25, start);
    volume.gain.setValueAtTime(0, start + 0.18);
    oscillator.connect(volume).connect(context.destination);
    oscillator.start(start);
    oscillator.stop(start + 0.2);
  };

  const beep = (urgent) => {
    beeps.count += 1;
    beepedAt = performance.now();
    if (!station.settings.get("sound") || !context || context.state !== "running") return;
    for (let i = 0; i < (urgent ? 3 : 1); i += 1) tone(context.currentTime + 0.3 * i, urgent ? 1320 : 880);
  };

  for (const event of ["pointerdown", "keydown"]) window.addEventListener(event, wake, { once: true });

  station.sound = {
    beeps,
    /* Whether the browser lets this page sound yet. */
    isAwake: () => context !== null && context.state === "running",
    alert: (urgent) => beep(urgent),

    /* While something urgent stands, beep again now and then. */
    keep(urgent) {
      if (!urgent) urgentSince = null;
      else if (urgentSince === null) urgentSince = performance.now();
      const now = performance.now();
      if (urgentSince !== null && now - beepedAt > AGAIN_MS && now - urgentSince < LONGEST_MS) beep(true);
    },
  };
})();
