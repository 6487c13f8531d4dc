/* The panels' text. Each element is touched only when what it says has changed. */
window.station = window.station || {};

(() => {
  "use strict";
  const STALE_MS = 2000;
  const said = new Map();

  const byId = (id) => document.getElementById(id);

  const say = (id, text) => {
    const element = byId(id);
    if (!element || said.get(id) === text) return;
    said.set(id, text);
    element.textContent = text;
  };

  const show = (id, on) => {
    const element = byId(id);
    if (element && element.hidden === on) element.hidden = !on;
  };

  const make = (tag, className, text) => {
    const made = document.createElement(tag);
    if (className) made.className = className;
    if (text !== undefined) made.textContent = text;
    return made;
  };

  /* Rebuild a list only when `key` says that it differs. */
  const rebuild = (id, key, build) => {
    const element = byId(id);
    if (!element || said.get(id) === key) return false;
    said.set(id, key);
    element.replaceChildren(...build());
    return true;
  };

  const sign = (kind) => {
    const made = make("span", `sign ${kind}`, station.words.SIGNS[kind]);
    made.setAttribute("aria-hidden", "true");
    return made;
  };

  const fact = (kind, what, text) => {
    const item = make("li", `fact ${kind}`);
    item.append(sign(kind), make("span", "what", what), make("span", "told", text));
    return item;
  };

  /* How wide a figure is, counted in digits. */
  const placesOf = (text) => station.fit.width(text.replace(/\d/g, "0"), 700) / station.fit.width("0", 700);
  const widest = new Map(); // id -> {what, places}

  /* A figure keeps the room of the widest it has shown of this kind (`what`), so that its digits never jump. */
  const figure = (id, text, unit, what, greatest = "") => {
    const before = widest.get(id);
    const known = before && before.what === what ? before.places : 0;
    const places = Math.max(known, placesOf(text), placesOf(greatest));
    widest.set(id, { what, places });
    say(id, text);
    say(`${id}-unit`, unit);
    return places;
  };

  const setPlaces = (element, places, unit = "") => {
    if (!element) return;
    const wanted = { "--places": places.toFixed(2), "--unit": station.fit.width(unit, 600).toFixed(2) };
    for (const [name, value] of Object.entries(wanted)) {
      if (element.style.getPropertyValue(name) !== value) element.style.setProperty(name, value);
    }
  };

  const UNIT_SIZE = 0.42; // of the digits', as in the style sheet
  const COLUMNS = { clock: 0.51, highest: 0.44, "ahead-1": 0.51, "ahead-2": 0.44 }; // shares of the row
  const rooms = new Map(); // id -> width of the whole row that the figure asks for, in parts of its size

  const small = (id, text, unit, what, greatest) => {
    const places = figure(id, text, unit, what, greatest);
    setPlaces(byId(`${id}-box`), places, unit);
    const own = places * station.fit.width("0", 700) + (unit ? UNIT_SIZE * (station.fit.width(unit, 600) + 0.35) : 0);
    rooms.set(id, text ? own / COLUMNS[id] : 0);
  };

  /* All the small figures in digits of one size. */
  const evenOut = () => {
    const box = document.querySelector(".small");
    const wanted = Math.max(...rooms.values()).toFixed(2);
    if (box && box.style.getPropertyValue("--room") !== wanted) box.style.setProperty("--room", wanted);
  };

  const ageText = (ms) => {
    const s = ms / 1000;
    return s < 100 ? `${Math.floor(s)} s` : `${Math.floor(s / 60)} min`;
  };

  const heard = (age, silent) => {
    if (silent) return "The station does not answer: the page shows the last it said.";
    if (age === null) return "Nothing heard from the altimeter yet.";
    if (age > STALE_MS) return `Last heard ${ageText(age)} ago`;
    return "";
  };

  const phase = (text) => {
    if (said.get("phase") === text) return;
    say("phase", text);
    byId("phase").style.setProperty("--width", station.fit.width(text, 800).toFixed(3));
  };

  const now = (state) => {
    const age = station.stream.age();
    const silent = station.stream.silence() > STALE_MS + 1000;
    const stale = silent || age === null || age > STALE_MS;
    document.body.classList.toggle("stale", stale);
    phase(station.words.phase(state));
    const touchdown = state.events.find((event) => event.name === "touchdown");
    const time = state.phase === "down" && touchdown ? touchdown.t_s : state.flight_time_s;
    small("clock", station.words.clock(time), "", "clock");
    say("heard", heard(age, silent));
    show("heard", stale);
    document.body.dataset.face = state.answer !== null ? "after" : state.phase === "waiting" ? "before" : "flight";
    show("face-before", state.phase === "waiting");
    show("face-flight", state.phase !== "waiting" && state.answer === null);
    show("face-after", state.answer !== null);
    document.body.dataset.phase = state.phase;
  };

  const figures = (state) => {
    const system = station.units.system();
    const { height, speed } = system;
    const { whole } = station.units;
    const e = state.estimate;
    const top = state.highest_m === null ? "" : whole(state.highest_m * height.factor);
    const fast = state.fastest_mps === null ? "" : whole(state.fastest_mps * speed.factor);
    // On the ground a speed within its own error is none.
    const rests = state.phase === "waiting" && e && Math.abs(e.velocity_mps) < 3 * e.velocity_sigma_mps;
    const v = e && !rests ? e.velocity_mps * speed.factor : 0;
    const up = whole(e ? Math.max(0, e.altitude_m) * height.factor : 0);
    // Both in digits of one size: what is read from afar must not change its form.
    const places = [
      figure("altitude", e ? up : "–", height.unit, system.name, top),
      figure("speed", e ? whole(Math.abs(v)) : "–", speed.unit, system.name, fast),
    ];
    setPlaces(document.querySelector(".big"), Math.max(2, ...places), speed.unit);
    const still = Math.round(v) === 0;
    say("speed-label", still ? "Vertical speed" : v > 0 ? "Going up" : "Coming down");
    say("speed-arrow", still ? "" : v > 0 ? "▲" : "▼");
    small("highest", top || "–", height.unit, system.name, top);
    ahead(state).forEach(([label, text, unit], i) => {
      const id = `ahead-${i + 1}`;
      show(`${id}-box`, label !== "");
      say(`${id}-label`, label);
      small(id, text, unit, label);
    });
    evenOut();
  };

  /* What is still to come: two of [label, figure, unit and margin]. */
  const ahead = (state) => {
    const parts = [["", "", ""], ["", "", ""]];
    const { outlook } = state;
    if (!outlook || state.flight_time_s === null) return parts;
    const { countdown, margin } = station.words;
    if (state.phase === "coast" && outlook.apogee) {
      const { height } = station.units.system();
      const { altitude_m: m, altitude_sigma_m: sigma } = outlook.apogee;
      parts[0] = ["Apogee in", ...countdown(outlook.apogee, state.flight_time_s)];
      parts[1] = ["Apogee expected", station.units.whole(m * height.factor), `${height.unit} ${margin(sigma * height.factor)}`];
    } else if (state.phase === "descent") {
      if (outlook.touchdown) parts[0] = ["Touchdown in", ...countdown(outlook.touchdown, state.flight_time_s)];
      if (outlook.main_height) parts[1] = ["Main’s height in", ...countdown(outlook.main_height, state.flight_time_s)];
    }
    return parts;
  };

  const parachutes = (state) => {
    const { words } = station;
    const cards = state.deployments.map((d) => ({
      role: words.name(d.role),
      channel: d.channel,
      verdict: d.verdict === null ? null : words.VERDICTS[d.verdict],
      steps: words.steps(state, d),
      reasons: d.reasons.map(station.units.inSentence),
    }));
    rebuild("parachutes", JSON.stringify(cards), () => {
      if (!cards.length) return [make("p", "quiet", "No parachute is known of yet: the altimeter will tell.")];
      return cards.map(parachute);
    });
  };

  const parachute = (card) => {
    const box = make("section", `parachute ${card.verdict ? card.verdict.kind : "open"}`);
    box.setAttribute("aria-label", card.role);
    const title = make("h3", "", card.role);
    if (card.verdict) {
      const verdict = make("span", `verdict ${card.verdict.kind}`);
      verdict.append(sign(card.verdict.kind), make("span", "", card.verdict.text));
      title.append(verdict);
    } else if (card.channel) title.append(make("span", "channel", `channel ${card.channel}`));
    const list = make("ol", "steps");
    list.append(...card.steps.map((step) => fact(step.kind, step.what, step.text)));
    box.append(title, list);
    // What went as it should needs no more words here.
    if (card.reasons.length && card.verdict && card.verdict.kind !== "good") {
      box.append(make("p", "why", card.reasons.join(" ")));
    }
    return box;
  };

  const readiness = (state) => {
    const link = station.link.summary();
    const battery = state.channels && state.channels.battery_mv;
    const low = state.alerts.some((alert) => alert.code === "battery_low");
    const facts = [[link.kind, "Link", link.text]];
    facts.push(
      battery === null || battery === undefined
        ? ["unknown", "Battery", "not heard"]
        : [low ? "bad" : "good", "Battery", `${(battery / 1000).toFixed(2)} V${low ? ": low" : ""}`],
    );
    for (const d of state.deployments) {
      const charge = d.channel === null ? null : station.words.CHARGES[d.charge];
      const text = d.channel === null ? "no channel: motor ejection" : charge ? charge.text : "not heard";
      facts.push([charge ? charge.kind : "unknown", `${station.words.name(d.role)} charge`, text]);
    }
    const zero = state.air.pad_pressure_pa !== null;
    facts.push([zero ? "good" : "waiting", "Height zero", zero ? "taken at the pad" : "being taken at the pad"]);
    if (station.place) facts.push(...station.place.readiness(state));
    facts.push(recordingFact(state));
    rebuild("readiness", JSON.stringify(facts), () => facts.map(([kind, what, text]) => fact(kind, what, text)));
  };

  const recordingFact = (state) => {
    if (state.playback) return ["done", "Record", "a saved flight is being replayed"];
    if (state.recording.error) return ["bad", "Record", state.recording.error];
    return state.recording.file ? ["good", "Record", "being written"] : ["unknown", "Record", "not being written"];
  };

  const after = (state) => {
    if (!state.answer) return;
    const answer = station.words.answer(state);
    const box = byId("answer");
    if (box) box.className = `answer ${answer.kind}`;
    rebuild("answer", answer.text, () => [sign(answer.kind), make("span", "", answer.text)]);
    const reasons = state.deployments.map((d) => {
      const verdict = station.words.VERDICTS[d.verdict];
      const head = `${station.words.name(d.role)}: ${verdict ? verdict.text.toLowerCase() : "not known"}.`;
      return [verdict ? verdict.kind : "unknown", head, d.reasons.map(station.units.inSentence).join(" ")];
    });
    rebuild("answer-reasons", JSON.stringify(reasons), () => reasons.map((reason) => fact(...reason)));
    const list = summary(state);
    rebuild("flight-summary", JSON.stringify(list), () =>
      list.map(([what, text]) => {
        const pair = make("div", "");
        pair.append(make("dt", "", what), make("dd", "", text));
        return pair;
      }),
    );
  };

  const summary = (state) => {
    const { height, speed } = station.units;
    const list = [];
    const touchdown = state.events.find((event) => event.name === "touchdown");
    const last = state.deployments[state.deployments.length - 1];
    const apogee = state.events.find((event) => event.name === "apogee");
    const seen = apogee && apogee.height === "seen";
    if (state.highest_m !== null) list.push([seen ? "Apogee" : "Highest heard", height(state.highest_m)]);
    if (state.fastest_mps !== null) list.push(["Fastest up", speed(state.fastest_mps)]);
    if (touchdown && touchdown.t_s !== null) list.push(["In the air", `${touchdown.t_s.toFixed(1)} s`]);
    if (touchdown && last && last.rate_after_mps !== null) list.push(["Came down at", speed(last.rate_after_mps)]);
    return list;
  };

  const story = (state) => {
    const { words } = station;
    const lines = state.events
      .map((event) => [event.t_s === null ? Infinity : event.t_s, words.storyTime(event.t_s), words.event(event)])
      .concat(state.marks.map((mark) => [mark.t_s === null ? -1 : mark.t_s, words.storyTime(mark.t_s), words.mark(mark)]))
      .sort((a, b) => a[0] - b[0])
      .map(([, time, text]) => ({ time, text }));
    const list = byId("story");
    const key = JSON.stringify(lines);
    if (!list || said.get("story") === key) return;
    said.set("story", key);
    // Only what is new is put in, so that a screen reader says only that.
    const old = [...list.children].map((item) => item.dataset.key);
    if (!old.every((one, i) => one === JSON.stringify(lines[i]))) list.replaceChildren();
    for (const line of lines.slice(list.children.length)) {
      const item = make("li", "");
      item.dataset.key = JSON.stringify(line);
      item.append(make("span", "when", line.time), document.createTextNode(" "), make("span", "", line.text));
      list.append(item);
    }
    list.parentElement.scrollTop = list.parentElement.scrollHeight;
  };

  const bar = (state) => {
    say("unit-name", state.unit ? state.unit.name : "Ground station");
    const { name, open, note } = state.source;
    say("source-line", note ? `${name}: ${note}` : open ? name : `${name}: not open`);
    const file = state.recording.file ? state.recording.file.split(/[\\/]/).pop() : "";
    say("recording-line", state.recording.error ? "Not recording" : file ? `Recording ${file}` : "");
  };

  station.panels = {
    STALE_MS,
    make,
    sign,
    fact,
    rebuild,
    say,

    /* All of it, from the latest state. */
    refresh() {
      const state = station.stream.state;
      if (!state) return;
      now(state);
      figures(state);
      parachutes(state);
      readiness(state);
      after(state);
      story(state);
      bar(state);
    },

    forget: () => said.clear(),
  };
})();
