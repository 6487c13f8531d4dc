/* What needs somebody to act: full width, in words, said once to a screen reader, and with sound. */
window.station = window.station || {};

(() => {
  "use strict";
  const SILENT_MS = 2000;
  const TEXT_EVERY_MS = 1000; // figures in an alert need not race
  const SHOWN = 3;
  const URGENT = ["fast_descent", "charge_not_fired", "charge_unknown", "link_silent", "not_recording"];

  let codes = [];
  let texts = new Map();
  let textAt = -Infinity;

  /* The station tells of the flight; what only this page can know is added here. */
  const all = (state) => {
    const found = state.alerts.map(({ code, text }) => ({ code, text: station.units.inSentence(text) }));
    const age = station.stream.age();
    if (station.stream.silence() > SILENT_MS + 1000) {
      found.unshift({
        code: "page_cut_off",
        text: "This page is cut off from the station: what it shows is old. Look at the laptop that runs the station.",
      });
    } else if (age !== null && age > SILENT_MS && !ended(state)) {
      found.unshift(silence(state));
    }
    if (state.recording.error && !state.playback) {
      found.push({ code: "not_recording", text: `The flight is not being recorded: ${state.recording.error}` });
    }
    return found;
  };

  const silence = (state) => {
    if (state.phase === "waiting") {
      return { code: "link_silent", text: "The altimeter is not heard: is it switched on, and the antenna connected?" };
    }
    if (state.phase === "down") {
      return { code: "link_ended", text: "The altimeter is no longer heard: this is the last that it said." };
    }
    return {
      code: "link_silent",
      text: "The altimeter is not heard: what the page shows is old. Keep eyes on the rocket; turn the antenna to it.",
    };
  };

  /* A replay at its end, or one that is held, is no lost link. */
  const ended = (state) =>
    state.playback !== null && (!state.playback.playing || state.playback.position_us >= state.playback.duration_us);

  const kind = (code) => (URGENT.includes(code) ? "urgent" : "caution");

  const announce = (fresh) => {
    const box = document.getElementById("announce-alert");
    if (box) box.textContent = fresh.map((alert) => alert.text).join(" ");
    if (station.sound) station.sound.alert(fresh.some((alert) => kind(alert.code) === "urgent"));
  };

  const bars = (found) => {
    const { make } = station.panels;
    const shown = found.slice(0, SHOWN).map(({ code, text }) => {
      const bar = make("p", `alert ${kind(code)}`);
      bar.dataset.code = code;
      const sign = make("span", "sign", "▲");
      sign.setAttribute("aria-hidden", "true");
      bar.append(sign, make("span", "alert-text", text));
      return bar;
    });
    if (found.length > SHOWN) shown.push(make("p", "alert caution", `and ${found.length - SHOWN} more`));
    return shown;
  };

  station.alerts = {
    refresh(state) {
      const found = all(state);
      const fresh = found.filter(({ code }) => !codes.includes(code));
      const same = fresh.length === 0 && found.length === codes.length;
      if (same && performance.now() - textAt < TEXT_EVERY_MS) return;
      const box = document.getElementById("alerts");
      if (box) {
        box.hidden = found.length === 0;
        station.panels.rebuild("alerts", JSON.stringify(found), () => bars(found));
      }
      if (fresh.length) announce(fresh);
      codes = found.map(({ code }) => code);
      texts = new Map(found.map(({ code, text }) => [code, text]));
      textAt = performance.now();
      if (station.sound) station.sound.keep(codes.some((code) => kind(code) === "urgent"));
    },

    get codes() {
      return [...texts.keys()];
    },
  };
})();
