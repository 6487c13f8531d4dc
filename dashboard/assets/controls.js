/* The bar's buttons and the keys that do the same. */
window.station = window.station || {};

(() => {
  "use strict";
  const byId = (id) => document.getElementById(id);
  const KEYS = [
    ["U", "the next units: feet and miles an hour, feet and feet a second, metres", () => press("units-button")],
    ["T", "light or dark", () => press("theme-button")],
    ["S", "sound of alerts", () => press("sound-button")],
    ["V", "spoken calls", () => press("voice-button")],
    ["F", "follow the flight on the curve", () => station.curve.follow()],
    ["+", "look closer at the curve", () => station.curve.zoom(0.5)],
    ["-", "look at more of the curve", () => station.curve.zoom(2)],
    [",", "earlier on the curve", () => station.curve.pan(-0.25)],
    [".", "later on the curve", () => station.curve.pan(0.25)],
    ["M", "mark this moment in the record", () => press("mark-button")],
    ["Space", "play or pause a replay", () => ifReplay(() => station.replay.toggle())],
    ["←", "five seconds back", () => ifReplay(() => station.replay.by(-1))],
    ["→", "five seconds on", () => ifReplay(() => station.replay.by(1))],
    ["?", "this help", () => press("help-button")],
  ];
  const WORDS = [
    ["Drogue", "the small parachute, out near the top so that the rocket comes down quickly but held"],
    ["Main", "the large parachute, out low down for a soft landing"],
    ["Charge", "what pushes a parachute out, set off by an igniter. The igniter is connected or not; that it fired is what the altimeter reports"],
    ["Held the fall", "the descent itself shows that a parachute carries the rocket: a report of firing is not enough"],
    ["Burnout, coast, apogee", "the motor has burned out; the rocket flies on upwards without thrust; the highest point"],
    ["±", "how sure a figure is: the true one lies within in about 19 cases of 20. The pale bands on the curve say the same"],
    ["Dashed on the curve", "not flown yet: what is expected from the flight so far. Dotted: what the plan says"],
    ["g", "acceleration as a multiple of the earth’s own: 0 is standing still or an even speed"],
    ["dBm", "how strongly the radio is received: the nearer to 0 the stronger, −60 is strong, −110 hardly there"],
    ["Lost, rejected", "lines of the altimeter that never came, and lines that came damaged and were not believed"],
    ["Not observed", "too little was heard to say. It is neither good news nor bad"],
  ];
  const NAMES = { " ": "Space", ArrowLeft: "←", ArrowRight: "→" };

  let noteTimer = null;

  const press = (id) => byId(id) && byId(id).click();
  const ifReplay = (act) => {
    const { state } = station.stream;
    if (state && state.playback && byId("play-button")) act();
  };
  const toggle = (name) => station.settings.set(name, !station.settings.get(name));

  const label = (id, text, pressed) => {
    const button = byId(id);
    if (!button) return;
    if (button.textContent !== text) button.textContent = text;
    if (pressed !== undefined) button.setAttribute("aria-pressed", String(pressed));
  };

  const refresh = () => {
    const { get } = station.settings;
    const { sound, voice } = station;
    label("units-button", station.units.system().name);
    label("theme-button", get("theme") === "dark" ? "Dark" : "Light");
    label("sound-button", !get("sound") ? "Sound off" : sound.isAwake() ? "Sound on" : "Sound: tap", get("sound"));
    label("voice-button", get("voice") ? (voice.isPossible() ? "Voice on" : "No voice here") : "Voice off", get("voice"));
  };

  /* A short word at the bottom of the page, read by screen readers too. */
  const note = (text) => {
    const box = byId("note") || document.body.appendChild(station.panels.make("p", "note"));
    box.id = "note";
    box.setAttribute("role", "status");
    box.textContent = text;
    clearTimeout(noteTimer);
    noteTimer = setTimeout(() => {
      box.textContent = "";
    }, 4000);
  };

  /* Send an operator's wish. Resolves to whether it was done; if not, says why. */
  const post = async (url, body) => {
    try {
      const answer = await fetch(url, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify(body),
      });
      if (answer.ok) return true;
      note((await answer.json()).error);
    } catch {
      note("The station does not answer.");
    }
    return false;
  };

  const mark = async () => {
    const { state } = station.stream;
    const clock = state ? station.words.clock(state.flight_time_s) : "";
    if (await post("/api/mark", { text: "operator" })) note(`Marked at ${clock}`);
  };

  const dialog = (name, title, content) => {
    const box = station.panels.make("dialog", "dialog");
    box.setAttribute("aria-label", name);
    const close = station.panels.make("button", "", "Close");
    close.type = "button";
    close.addEventListener("click", () => box.close());
    box.addEventListener("close", () => box.remove());
    box.append(station.panels.make("h2", "", title), ...content, close);
    document.body.append(box);
    box.showModal();
  };

  /* Pairs of a term and its meaning. */
  const pairs = (className, list, term) => {
    const { make } = station.panels;
    const box = make("dl", className);
    for (const [name, meaning] of list) {
      const pair = make("div", "");
      const head = make("dt", "");
      head.append(term(name));
      pair.append(head, make("dd", "", meaning));
      box.append(pair);
    }
    return box;
  };

  const showHelp = () => {
    const { make } = station.panels;
    const wanted = make("label", "wanted");
    const box = make("input", "");
    box.type = "checkbox";
    box.checked = station.settings.get("keys");
    box.addEventListener("change", () => station.settings.set("keys", box.checked));
    wanted.append(box, document.createTextNode(" these keys work without Ctrl or Alt"));
    const keys = pairs("keys", KEYS, (name) => make("kbd", "", name));
    const words = pairs("words", WORDS, (name) => document.createTextNode(name));
    dialog("Help", "Keys", [keys, wanted, make("h2", "", "Words"), words]);
  };

  const onKey = (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]")) return;
    if (!station.settings.get("keys") && event.key !== "?") return;
    const tag = event.target.tagName;
    const own = tag === "SELECT" || tag === "INPUT" || (tag === "BUTTON" && event.key === " ");
    if (own) return;
    const wanted = NAMES[event.key] || (event.key === "=" ? "+" : event.key.toUpperCase());
    const found = KEYS.find(([key]) => key === wanted);
    if (!found) return;
    event.preventDefault();
    found[2]();
  };

  const onClick = (id, act) => byId(id) && byId(id).addEventListener("click", act);

  station.controls = {
    note,
    post,
    dialog,
    refresh,

    start() {
      onClick("units-button", () => station.settings.set("units", station.units.other()));
      onClick("theme-button", () => station.settings.set("theme", station.settings.get("theme") === "dark" ? "light" : "dark"));
      onClick("sound-button", () => toggle("sound"));
      onClick("voice-button", () => toggle("voice"));
      onClick("mark-button", mark);
      onClick("help-button", showHelp);
      onClick("share-button", () => station.share.open());
      document.addEventListener("keydown", onKey);
      station.settings.onChange(refresh);
      if (window.speechSynthesis) window.speechSynthesis.addEventListener("voiceschanged", refresh);
      refresh();
    },
  };
})();
