/* The link's health: counters from the station, a rate and the last minute made of them here. */
window.station = window.station || {};

(() => {
  "use strict";
  const SECONDS = 60;
  const SILENT_MS = 2000;
  const LOSSY = 0.1;

  let last = null; // {lines, lost, rejected, us} of the last counters
  let strip = []; // {good, lost} a second, newest last
  let rate = null;

  const restart = () => {
    last = null;
    strip = [];
    rate = null;
  };

  const count = (state) => {
    const { lines, lost, rejected, last_heard_us: us } = state.link;
    if (us === null) return;
    if (last && (us < last.us || lines < last.lines)) restart();
    if (last && us > last.us) {
      const seconds = (us - last.us) / 1e6;
      rate = (lines - last.lines) / seconds;
      // A change of counters usually spans one second; a longer one was silence, then a burst.
      const quiet = Math.min(SECONDS, Math.round(seconds) - 1);
      for (let i = 0; i < quiet; i += 1) strip.push({ good: 0, lost: 0 });
      const bad = Math.max(0, lost - last.lost) + (rejected - last.rejected);
      strip.push({ good: lines - last.lines - (rejected - last.rejected), lost: bad });
      strip = strip.slice(-SECONDS);
    }
    if (!last || us > last.us) last = { lines, lost, rejected, us };
  };

  const rateText = () => {
    const age = station.stream.age();
    if (age === null || age > SILENT_MS) return "0 lines/s";
    return rate === null ? "–" : `${Math.round(rate)} lines/s`;
  };

  const percent = (fraction) => `${(100 * fraction).toFixed(fraction < 0.1 ? 1 : 0)} %`;

  const drawStrip = () => {
    const box = document.getElementById("link-strip");
    if (!box) return;
    const most = Math.max(1, ...strip.map((s) => s.good + s.lost));
    const bars = Array.from({ length: SECONDS }, (_, i) => strip[strip.length - SECONDS + i] || { good: 0, lost: 0 });
    while (box.children.length < SECONDS) {
      const bar = document.createElement("span");
      bar.append(document.createElement("i"), document.createElement("b"));
      box.append(bar);
    }
    bars.forEach(({ good, lost }, i) => {
      const [lostPart, goodPart] = box.children[i].children;
      lostPart.style.height = `${(100 * lost) / most}%`;
      goodPart.style.height = `${(100 * good) / most}%`;
    });
    const good = strip.reduce((sum, s) => sum + s.good, 0);
    const lost = strip.reduce((sum, s) => sum + s.lost, 0);
    const share = good + lost ? percent(lost / (good + lost)) : "–";
    box.setAttribute("aria-label", `The last ${strip.length} s: ${good} lines believed, ${share} lost or rejected`);
  };

  const channel = (number, state) => {
    if (!state.channels) return "not heard";
    const said = state.channels[`channel_${number}_state`];
    const role = state.unit ? state.unit[`channel_${number}_role`] : null;
    const text = said === "open" ? "no continuity" : said || "not heard";
    return role && role !== "none" ? `${role}: ${text}` : text;
  };

  const facts = (state) => {
    const { link } = state;
    const age = station.stream.age();
    const battery = state.channels && state.channels.battery_mv;
    const why = Object.entries(link.rejected_by_reason).map(([reason, n]) => `${reason} ${n}`).join(", ");
    const list = [
      ["Lines", rateText()],
      ["Last heard", age === null ? "never" : age > SILENT_MS ? `${Math.floor(age / 1000)} s ago` : "now"],
      ["Lost", `${link.lost} (${percent(link.loss_fraction)})`],
      ["Rejected", why ? `${link.rejected} (${why})` : `${link.rejected}`],
      ["Battery", battery ? `${(battery / 1000).toFixed(2)} V` : "not heard"],
      ["Signal", link.signal_dbm === null ? "not measured" : `${link.signal_dbm.toFixed(0)} dBm`],
      ["Channel 1", channel(1, state)],
      ["Channel 2", channel(2, state)],
    ];
    if (link.restarts) list.push(["Restarts", `${link.restarts}`]);
    return list;
  };

  station.link = {
    /* The link in a few words, for before the flight. */
    summary() {
      const state = station.stream.state;
      const age = station.stream.age();
      if (age === null) return { kind: "waiting", text: "nothing heard yet" };
      if (age > SILENT_MS) return { kind: "bad", text: `silent for ${Math.floor(age / 1000)} s` };
      const { loss_fraction: loss } = state.link;
      return { kind: loss > LOSSY ? "bad" : "good", text: `${rateText()}, ${percent(loss)} lost` };
    },

    restart,
    count,

    refresh(state) {
      const list = facts(state);
      station.panels.rebuild("link-facts", JSON.stringify(list), () =>
        list.map(([term, text]) => {
          const pair = station.panels.make("div", "");
          const value = station.panels.make("dd", "", text);
          value.title = text;
          pair.append(station.panels.make("dt", "", term), value);
          return pair;
        }),
      );
    },

    drawStrip,
  };
})();
