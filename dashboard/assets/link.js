/* The link's health: counters and the last minute, in words that need no radio handbook. */
window.station = window.station || {};

(() => {
  "use strict";
  const SECONDS = 60;
  const SILENT_MS = 2000;
  const RATE_OVER_S = 3;
  const LOSSY = 0.1;
  const REASONS = {
    "no start": "without a beginning",
    "no crc": "without a checksum",
    "bad crc": "damaged on the way",
    "too long": "too long",
    "bad character": "with strange characters",
    "missing field": "incomplete",
    "bad field": "with a value that is no number",
    "out of range": "with an impossible value",
  };

  const percent = (fraction) => `${(100 * fraction).toFixed(fraction < 0.1 ? 1 : 0)} %`;

  /* The second of the session's clock that runs now, by the newest line and how long ago it came. */
  const nowS = (state) => {
    const age = station.stream.age();
    const { last_heard_us: heard } = state.link;
    return heard === null || age === null ? null : Math.floor((heard + 1000 * age) / 1e6);
  };

  /* Lines a second over the newest full seconds; null before there is one. */
  const rate = (state) => {
    const now = nowS(state);
    if (now === null) return null;
    const full = state.last_minute.filter(([at]) => at < now && at >= now - RATE_OVER_S);
    if (!full.length) return null;
    const seconds = Math.min(RATE_OVER_S, now - state.last_minute[0][0]);
    return full.reduce((sum, [, good]) => sum + good, 0) / seconds;
  };

  const isSilent = () => {
    const age = station.stream.age();
    return age === null || age > SILENT_MS;
  };

  const rateText = (state) => {
    if (isSilent()) return "0";
    const lines = rate(state);
    return lines === null ? "–" : `${Math.round(lines)}`;
  };

  /* Each second of the last minute, the oldest first: how much of a full second was heard, and how much was not. */
  const bars = (state) => {
    const now = nowS(state);
    const first = state.last_minute.length ? state.last_minute[0][0] : Infinity;
    const bySecond = new Map(state.last_minute.map(([at, good, bad]) => [at, { good, bad }]));
    const full = Math.max(1, ...state.last_minute.map(([, good, bad]) => Math.min(good + bad, 2 * good)));
    return Array.from({ length: SECONDS }, (_, i) => {
      const at = now - SECONDS + 1 + i;
      if (now === null || at < first) return { good: 0, bad: 0 };
      // A second that runs still is not a bad one.
      const { good, bad } = bySecond.get(at) || { good: 0, bad: at >= now - 1 ? 0 : full };
      return { good: Math.min(1, good / full), bad: Math.min(1 - Math.min(1, good / full), bad / full) };
    });
  };

  const drawStrip = () => {
    const box = document.getElementById("link-strip");
    const { state } = station.stream;
    if (!box || !state) return;
    while (box.children.length < SECONDS) {
      const bar = document.createElement("span");
      bar.append(document.createElement("i"), document.createElement("b"));
      box.append(bar);
    }
    bars(state).forEach(({ good, bad }, i) => {
      const [badPart, goodPart] = box.children[i].children;
      badPart.style.height = `${100 * bad}%`;
      goodPart.style.height = `${100 * good}%`;
    });
    const good = state.last_minute.reduce((sum, second) => sum + second[1], 0);
    const bad = state.last_minute.reduce((sum, second) => sum + second[2], 0);
    const share = good + bad ? percent(bad / (good + bad)) : "–";
    box.setAttribute("aria-label", `The last minute of the link: ${good} lines believed, ${share} lost or rejected`);
  };

  const CHANNELS = { ready: "ready", open: "not ready", fired: "fired", off: "not used" };

  const channel = (number, state) => {
    const said = state.channels && state.channels[`channel_${number}_state`];
    const role = state.unit ? state.unit[`channel_${number}_role`] : null;
    const text = CHANNELS[said] || "not heard";
    return role && role !== "none" ? `${role} ${text}` : text;
  };

  const signal = ({ signal_dbm: dbm, snr_db: snr }) => {
    if (dbm !== null) return `${dbm.toFixed(0).replace("-", "−")} dBm`;
    return snr === null ? "not measured" : `${snr.toFixed(0)} dB over noise`;
  };

  const facts = (state) => {
    const { link } = state;
    const age = station.stream.age();
    const battery = state.channels && state.channels.battery_mv;
    return [
      ["Lines a second", rateText(state)],
      ["Last heard", age === null ? "never" : age > SILENT_MS ? `${Math.floor(age / 1000)} s ago` : "now"],
      ["Lost on the way", `${link.lost} (${percent(link.loss_fraction)})`],
      ["Rejected", `${link.rejected}`],
      ["Battery", battery ? `${(battery / 1000).toFixed(2)} V` : "not heard"],
      ["Signal", signal(link)],
      ["Channel 1", channel(1, state)],
      ["Channel 2", channel(2, state)],
    ];
  };

  /* What else there is to say, under the strip. */
  const note = ({ link }) => {
    const parts = Object.entries(link.rejected_by_reason).map(([reason, n]) => `${n} ${REASONS[reason] || reason}`);
    const said = parts.length ? [`Rejected: ${parts.join(", ")}.`] : [];
    if (link.restarts) said.push(`The altimeter restarted ${link.restarts === 1 ? "once" : `${link.restarts} times`}.`);
    return said.join(" ") || "The last minute, a bar a second; hatched: lost or rejected.";
  };

  station.link = {
    /* The link in a few words, for before the flight. */
    summary() {
      const { state } = station.stream;
      const age = station.stream.age();
      if (age === null) return { kind: "waiting", text: "nothing heard yet" };
      if (age > SILENT_MS) return { kind: "bad", text: `silent for ${Math.floor(age / 1000)} s` };
      const { loss_fraction: loss } = state.link;
      const lines = rate(state);
      const text = lines === null ? "just heard" : `${Math.round(lines)} lines/s, ${percent(loss)} lost`;
      return { kind: loss > LOSSY ? "bad" : "good", text };
    },

    refresh(state) {
      const list = facts(state);
      station.panels.rebuild("link-facts", JSON.stringify(list), () =>
        list.map(([term, text]) => {
          const pair = station.panels.make("div", "");
          pair.append(station.panels.make("dt", "", term), station.panels.make("dd", "", text));
          return pair;
        }),
      );
      station.panels.say("link-note", note(state));
    },

    drawStrip,
  };
})();
