/* The replay's controls: play and pause, pace, a bar to drag, and a button for each event of the record. */
window.station = window.station || {};

(() => {
  "use strict";
  const SPEEDS = [0.25, 0.5, 1, 2, 4, 8, 16];
  const STEP_US = 5e6;
  const BREATH_US = 5e5; // an event is jumped to a moment before it, or it would be over
  const SEEK_EVERY_MS = 300; // while the bar is being dragged

  let parts = null;
  let dragging = false;
  let seekTimer = null;
  let wantedUs = null;
  let wantedAt = -Infinity;

  const send = (body) =>
    station.controls.post("/api/playback", body).then((done) => {
      if (!done && parts) parts.position.value = station.stream.state.playback.position_us;
    });

  const seek = (us) => {
    wantedUs = us;
    wantedAt = performance.now();
    if (seekTimer !== null) return;
    seekTimer = setTimeout(() => {
      seekTimer = null;
      send({ do: "seek", position_us: Math.round(wantedUs) });
    }, SEEK_EVERY_MS);
  };

  const time = (us) => {
    const s = Math.max(0, us) / 1e6;
    return `${Math.floor(s / 60)}:${(s % 60).toFixed(1).padStart(4, "0")}`;
  };

  const toggle = () => {
    const { playback } = station.stream.state;
    send({ do: playback.playing ? "pause" : "play" });
  };

  const build = (box) => {
    const { make } = station.panels;
    const play = make("button", "play", "Play");
    play.type = "button";
    play.id = "play-button";
    play.addEventListener("click", toggle);

    const speed = make("select", "speed");
    speed.id = "speed-choice";
    speed.setAttribute("aria-label", "Speed");
    SPEEDS.forEach((x) => speed.append(new Option(`${x}×`, x)));
    speed.addEventListener("change", () => send({ do: "speed", speed: Number(speed.value) }));

    const position = make("input", "position");
    position.type = "range";
    position.id = "position-bar";
    position.min = 0;
    position.step = 100000;
    position.setAttribute("aria-label", "Position in the record");
    position.addEventListener("input", () => {
      dragging = true;
      seek(Number(position.value));
    });
    position.addEventListener("change", () => {
      dragging = false;
      seek(Number(position.value));
    });

    const clock = make("span", "position-clock", "");
    const jumps = make("span", "jumps");
    jumps.id = "jumps";
    box.append(play, speed, position, clock, jumps);
    // Until the station has said where the replay stands, there is nothing to play, slow down or drag.
    const controls = [play, speed, position];
    controls.forEach((control) => (control.disabled = true));
    return { play, speed, position, clock, jumps, controls };
  };

  const jumpButtons = ({ playback }) => {
    station.panels.rebuild("jumps", JSON.stringify(playback.events), () =>
      playback.events.map(({ name, position_us: us }) => {
        const button = station.panels.make("button", "jump", station.words.eventLabel({ name }));
        button.type = "button";
        button.addEventListener("click", () => send({ do: "seek", position_us: Math.max(0, us - BREATH_US) }));
        return button;
      }),
    );
  };

  station.replay = {
    toggle,
    /* From where we asked to be, if that was just now: the answer may still be on its way. */
    by(steps) {
      const { position_us: now, duration_us: last } = station.stream.state.playback;
      const from = performance.now() - wantedAt < 1000 ? wantedUs : now;
      seek(Math.min(last, Math.max(0, from + steps * STEP_US)));
    },

    start() {
      const page = document.getElementById("page");
      const box = document.getElementById("replay");
      if (!box || page.dataset.playback !== "yes") return;
      if (page.dataset.operator === "yes") parts = build(box);
      else box.append(station.panels.make("span", "position-clock", "A saved flight, replayed"));
      box.hidden = false;
    },

    refresh(state) {
      if (!parts || !state.playback) return;
      const { playback } = state;
      parts.controls.forEach((control) => (control.disabled = false));
      const label = playback.playing ? "Pause" : "Play";
      if (parts.play.textContent !== label) parts.play.textContent = label;
      if (![...parts.speed.options].some((option) => Number(option.value) === playback.speed)) {
        parts.speed.append(new Option(`${playback.speed}×`, playback.speed));
      }
      if (document.activeElement !== parts.speed) parts.speed.value = String(playback.speed);
      parts.position.max = playback.duration_us;
      if (!dragging && seekTimer === null) parts.position.value = playback.position_us;
      parts.position.setAttribute("aria-valuetext", `${time(playback.position_us)} of ${time(playback.duration_us)}`);
      parts.clock.textContent = `${time(playback.position_us)} / ${time(playback.duration_us)}`;
      jumpButtons(state);
    },
  };
})();
