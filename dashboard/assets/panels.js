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

  /* In digits: a comma is half one. */
  const widthOf = (text) => text.length - 0.5 * (text.split(",").length - 1);

  /* As many places as the greatest figure so far needs, so that the digits never change their size in flight. */
  const figure = (id, text, unit, greatest) => {
    say(id, text);
    say(`${id}-unit`, unit);
    const box = byId(id) && byId(id).closest(".figure");
    const places = String(Math.max(widthOf(text), widthOf(greatest), 2));
    if (box && box.style.getPropertyValue("--places") !== places) box.style.setProperty("--places", places);
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

  const now = (state) => {
    const age = station.stream.age();
    const silent = station.stream.silence() > STALE_MS + 1000;
    const stale = silent || age === null || age > STALE_MS;
    document.body.classList.toggle("stale", stale);
    say("phase", station.words.phase(state));
    const touchdown = state.events.find((event) => event.name === "touchdown");
    const time = state.phase === "down" && touchdown ? touchdown.t_s : state.flight_time_s;
    say("clock", station.words.clock(time));
    say("heard", heard(age, silent));
    show("heard", stale);
    show("face-before", state.phase === "waiting");
    show("face-flight", state.phase !== "waiting" && state.answer === null);
    show("face-after", state.answer !== null);
    document.body.dataset.phase = state.phase;
  };

  const figures = (state) => {
    const { height, speed } = station.units.system();
    const { whole } = station.units;
    const e = state.estimate;
    const top = state.highest_m === null ? "" : whole(state.highest_m * height.factor);
    const fast = state.fastest_mps === null ? "" : whole(state.fastest_mps * speed.factor);
    const v = e ? e.velocity_mps * speed.factor : 0;
    figure("altitude", e ? whole(Math.max(0, e.altitude_m) * height.factor) : "–", height.unit, top);
    figure("speed", e ? whole(Math.abs(v)) : "–", speed.unit, fast);
    say("speed-label", Math.round(v) === 0 ? "Vertical speed" : v > 0 ? "Going up ▲" : "Coming down ▼");
    figure("highest", top || "–", height.unit, top);
    figure("fastest", fast || "–", speed.unit, fast);
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
      if (!cards.length) return [make("p", "quiet", "Not known yet.")];
      return cards.map((card) => {
        const box = make("section", `parachute ${card.verdict ? card.verdict.kind : "open"}`);
        box.setAttribute("aria-label", card.role);
        const title = make("h3", "", card.channel ? `${card.role} · channel ${card.channel}` : card.role);
        if (card.verdict) {
          const verdict = make("span", `verdict ${card.verdict.kind}`);
          verdict.append(sign(card.verdict.kind), make("span", "", card.verdict.text));
          title.append(verdict);
        }
        const list = make("ul", "steps");
        list.append(...card.steps.map((step) => fact(step.kind, step.what, step.text)));
        box.append(title, list);
        if (card.reasons.length) {
          const why = make("p", "why", card.reasons.join(" "));
          why.title = card.reasons.join(" ");
          box.append(why);
        }
        return box;
      });
    });
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
    const answer = station.words.ANSWERS[state.answer];
    const box = byId("answer");
    if (box) box.className = `answer ${answer.kind}`;
    const text = answer.text(state.deployments.length);
    rebuild("answer", text, () => [sign(answer.kind), make("span", "", text)]);
    const reasons = state.deployments.map((d) => {
      const verdict = station.words.VERDICTS[d.verdict];
      const head = `${station.words.name(d.role)}: ${verdict ? verdict.text.toLowerCase() : "not known"}.`;
      return [verdict ? verdict.kind : "unknown", head, d.reasons.map(station.units.inSentence).join(" ")];
    });
    rebuild("answer-reasons", JSON.stringify(reasons), () => reasons.map((reason) => fact(...reason)));
    const parts = [];
    if (state.highest_m !== null) parts.push(`Apogee ${station.units.height(state.highest_m)}`);
    if (state.fastest_mps !== null) parts.push(`fastest up ${station.units.speed(state.fastest_mps)}`);
    const touchdown = state.events.find((event) => event.name === "touchdown");
    if (touchdown && touchdown.t_s !== null) parts.push(`${touchdown.t_s.toFixed(1)} s in the air`);
    say("flight-summary", parts.join(" · "));
  };

  const story = (state) => {
    const sentences = state.events
      .map((event) => [event.t_s === null ? Infinity : event.t_s, station.words.event(event), event.sigma_s])
      .concat(state.marks.map((mark) => [mark.t_s === null ? -1 : mark.t_s, station.words.mark(mark), 0]))
      .sort((a, b) => a[0] - b[0])
      .map(([, text]) => text);
    const list = byId("story");
    const key = JSON.stringify(sentences);
    if (!list || said.get("story") === key) return;
    said.set("story", key);
    // Only what is new is put in, so that a screen reader says only that.
    const old = [...list.children].map((item) => item.textContent);
    if (!old.every((text, i) => text === sentences[i])) list.replaceChildren();
    list.append(...sentences.slice(list.children.length).map((text) => make("li", "", text)));
    list.parentElement.scrollTop = list.parentElement.scrollHeight;
  };

  const bar = (state) => {
    say("unit-name", state.unit ? state.unit.name : "Ground station");
    const { name, open, note } = state.source;
    say("source-line", note ? `${name}: ${note}` : open ? name : `${name}: not open`);
    const file = state.recording.file ? state.recording.file.split(/[\\/]/).pop() : "";
    say("recording-line", state.recording.error ? "Not recording" : file ? `Recording to ${file}` : "");
    const line = byId("recording-line");
    if (line && state.recording.file) line.title = state.recording.file;
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
