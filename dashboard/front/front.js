/* What the start page and its neighbours share: the bar's buttons, asking the station, and saying how it went. */
window.station = window.station || {};

(() => {
  "use strict";
  const byId = (id) => document.getElementById(id);

  const make = (tag, className, text) => {
    const element = document.createElement(tag);
    if (className) element.className = className;
    if (text !== undefined) element.textContent = text;
    return element;
  };

  /* One line where everybody sees and hears it. */
  const say = (text, { bad = false } = {}) => {
    const box = byId("said");
    box.textContent = text;
    box.classList.toggle("bad", bad);
  };

  const asked = async (url, options) => {
    let answer;
    try {
      answer = await fetch(url, options);
    } catch {
      throw new Error("The station does not answer: was it ended?");
    }
    if (answer.status === 204) return null;
    const told = await answer.json().catch(() => ({ error: `The station answered with status ${answer.status}.` }));
    if (!answer.ok) throw new Error(told.error);
    return told;
  };

  const get = (url) => asked(url, { cache: "no-store" });
  const post = (url, body) =>
    asked(url, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });

  /* Do what a button is for: once at a time, and say it if it fails. Resolves to whether it worked. */
  const attempt = async (button, act) => {
    button.disabled = true;
    say("");
    try {
      await act();
      return true;
    } catch (error) {
      say(error.message, { bad: true });
      return false;
    } finally {
      button.disabled = false;
    }
  };

  const open = (button, body) =>
    attempt(button, async () => {
      const told = await post("/api/open", body);
      location.assign(told.address);
    });

  const VERDICTS = {
    confirmed: ["good", "Held the fall"],
    too_fast: ["bad", "Too fast"],
    no_effect: ["bad", "No effect seen"],
    early: ["bad", "Out too early"],
    not_fired: ["bad", "Not fired"],
    not_observed: ["unknown", "Not observed"],
  };
  const ANSWERS = {
    both_confirmed: ["good", "All held the fall"],
    attention: ["bad", "Look here"],
    not_observed: ["unknown", "Can’t say"],
  };
  const SIGNS = { good: "✓", bad: "!", unknown: "?" };

  const signed = ([kind, words]) => {
    const box = make("span", "told");
    const sign = make("span", `sign ${kind}`, SIGNS[kind]);
    sign.setAttribute("aria-hidden", "true");
    box.append(sign, document.createTextNode(words));
    return box;
  };

  const duration = (seconds) => {
    const whole = Math.round(seconds);
    if (whole < 100) return `${whole} s`;
    if (whole < 3600) return `${Math.floor(whole / 60)} min ${whole % 60} s`;
    return `${Math.floor(whole / 3600)} h ${Math.floor((whole % 3600) / 60)} min`;
  };

  const onUnits = [];
  const label = () => {
    byId("units-button").textContent = station.units.system().name;
    byId("theme-button").textContent = station.settings.get("theme") === "dark" ? "Dark" : "Light";
  };

  station.front = {
    byId,
    make,
    say,
    get,
    post,
    attempt,
    open,
    signed,
    duration,
    VERDICTS,
    ANSWERS,

    known: (value, how) => (value === null || value === undefined ? "–" : how(value)),

    /* Calls `redraw` when the viewer's units change. */
    onUnits: (redraw) => onUnits.push(redraw),

    /* How far the judging of new flights is. */
    showProgress(progress) {
      const box = byId("progress");
      box.hidden = progress === null;
      if (progress === null) return;
      byId("progress-bar").max = progress[1];
      byId("progress-bar").value = progress[0];
      byId("progress-words").textContent = `Judging new flights: ${progress[0]} of ${progress[1]}`;
    },
  };

  byId("units-button").addEventListener("click", () => station.settings.set("units", station.units.other()));
  byId("theme-button").addEventListener("click", () =>
    station.settings.set("theme", station.settings.get("theme") === "dark" ? "light" : "dark"),
  );
  station.settings.onChange((name, value) => {
    if (name === "theme") document.documentElement.dataset.theme = value;
    label();
    if (name === "units") onUnits.forEach((redraw) => redraw());
  });
  label();
})();
