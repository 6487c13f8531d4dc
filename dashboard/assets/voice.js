/* Spoken calls, by a voice of this device alone (some browsers' voices send the text away). Off until switched on.
   Never a queue: a call that matters cuts off the one being spoken, and a height is left out while one is. */
window.station = window.station || {};

(() => {
  "use strict";
  let told = new Set(); // events already called, or there before we listened
  let step = null; // the height step last passed
  const calls = [];
  const FRESH_MS = 3000; // what was found longer ago (a replay being wound on) is not called

  const speech = () => window.speechSynthesis || null;

  const localVoice = () => {
    const voices = speech() ? speech().getVoices().filter((voice) => voice.localService) : [];
    return voices.find((voice) => /^en/i.test(voice.lang)) || voices[0] || null;
  };

  const say = (text, matters) => {
    calls.push(text);
    if (calls.length > 50) calls.shift();
    const voice = localVoice();
    if (!voice || !station.settings.get("voice")) return;
    if (speech().speaking || speech().pending) {
      if (!matters) return;
      speech().cancel();
    }
    const words = new SpeechSynthesisUtterance(text);
    words.voice = voice;
    words.rate = 1.1;
    speech().speak(words);
  };

  const spoken = (m) => {
    const { height } = station.units.system();
    return `${station.units.whole(m * height.factor).replace(",", "")} ${height.spoken}`;
  };

  const ofEvent = (event) => {
    switch (event.name) {
      case "liftoff":
        return "Liftoff";
      case "burnout":
        return event.height === "not_observed" ? "Past burnout, which was not observed" : "Burnout";
      case "apogee":
        if (event.height === "not_observed") return "Past the highest point, which was not observed";
        return `Apogee, ${event.height === "reckoned" ? "about " : ""}${spoken(event.altitude_m)}`;
      case "drogue":
        return "The drogue holds the fall";
      case "main":
        return "The main holds the fall";
      case "touchdown":
        return "Touchdown";
      default:
        return null;
    }
  };

  const isFresh = (state, event) => {
    const pace = state.playback ? Math.max(1, state.playback.speed) : 1;
    return !state.estimate || state.estimate.t_ms - event.called_t_ms < FRESH_MS * pace;
  };

  const heights = (state) => {
    const e = state.estimate;
    if (!e || !["thrust", "coast", "descent"].includes(state.phase)) {
      step = null;
      return;
    }
    const { height, callEvery } = station.units.system();
    const now = Math.floor((e.altitude_m * height.factor) / callEvery);
    const passed = step !== null && now !== step ? Math.max(now, step) : null;
    // Hovering about a step is called once: the next call needs a whole step more.
    if (step === null || Math.abs(e.altitude_m * height.factor - step * callEvery - callEvery / 2) > callEvery * 0.55) {
      if (passed !== null && passed > 0) say(`${passed * callEvery}`, false);
      step = now;
    }
  };

  station.voice = {
    calls,
    isPossible: () => localVoice() !== null,

    /* Called with every message. What had happened before this page listened is not called. */
    hear(state, isNew) {
      const names = state.events.map((event) => event.name);
      if (isNew) {
        // The page began anew because a liftoff that was called here is taken back: who heard the one hears the other.
        const back = state.alerts.some(({ code }) => code === "liftoff_taken_back");
        if (back && told.has("liftoff") && !names.includes("liftoff")) say("Liftoff taken back", true);
        told = new Set(names);
        step = null;
      }
      told = new Set([...told].filter((name) => names.includes(name)));
      for (const event of state.events) {
        if (!told.has(event.name)) {
          told.add(event.name);
          const text = ofEvent(event);
          if (text && isFresh(state, event)) say(text, true);
        }
      }
      heights(state);
    },
  };
})();
