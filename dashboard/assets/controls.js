/* The bar's buttons and the keys that do the same. */
window.station = window.station || {};

(() => {
  "use strict";
  const byId = (id) => document.getElementById(id);
  const KEYS = [
    ["U", "feet and miles an hour, or metres", () => press("units-button")],
    ["T", "light or dark", () => press("theme-button")],
    ["S", "sound of alerts", () => press("sound-button")],
    ["V", "spoken calls", () => press("voice-button")],
    ["F", "follow the flight on the curve", () => station.curve.follow()],
    ["M", "mark this moment in the record", () => press("mark-button")],
    ["Space", "play or pause a replay", () => ifReplay(() => station.replay.toggle())],
    ["←", "five seconds back", () => ifReplay(() => station.replay.by(-1))],
    ["→", "five seconds on", () => ifReplay(() => station.replay.by(1))],
    ["?", "this list", () => press("keys-button")],
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

  const showKeys = () => {
    const list = station.panels.make("dl", "keys");
    for (const [key, meaning] of KEYS) {
      const pair = station.panels.make("div", "");
      const term = station.panels.make("dt", "");
      term.append(station.panels.make("kbd", "", key));
      pair.append(term, station.panels.make("dd", "", meaning));
      list.append(pair);
    }
    const wanted = station.panels.make("label", "wanted");
    const box = station.panels.make("input", "");
    box.type = "checkbox";
    box.checked = station.settings.get("keys");
    box.addEventListener("change", () => station.settings.set("keys", box.checked));
    wanted.append(box, document.createTextNode(" these keys work without Ctrl or Alt"));
    dialog("Keys", "Keys", [list, wanted]);
  };

  const onKey = (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]")) return;
    if (!station.settings.get("keys") && event.key !== "?") return;
    const tag = event.target.tagName;
    const own = tag === "SELECT" || tag === "INPUT" || (tag === "BUTTON" && event.key === " ");
    if (own) return;
    const wanted = NAMES[event.key] || event.key.toUpperCase();
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
      onClick("keys-button", showKeys);
      onClick("share-button", () => station.share.open());
      document.addEventListener("keydown", onKey);
      station.settings.onChange(refresh);
      if (window.speechSynthesis) window.speechSynthesis.addEventListener("voiceschanged", refresh);
      refresh();
    },
  };
})();
