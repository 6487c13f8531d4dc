/* What the page says, in words. Nothing here is ever said on a command alone: openings come from the descent. */
window.station = window.station || {};

(() => {
  "use strict";
  const u = () => station.units;

  const PHASES = {
    waiting: "On the rail",
    thrust: "Motor burning",
    coast: "Coasting up",
    descent: "Coming down",
    down: "On the ground",
  };

  const ANSWERS = {
    both_confirmed: { kind: "good", text: (n) => (n > 1 ? "Both parachutes held the fall" : "The parachute held the fall") },
    attention: { kind: "bad", text: () => "Look here before you go near" },
    not_observed: { kind: "unknown", text: () => "Can’t say: too little was observed" },
  };

  const VERDICTS = {
    confirmed: { kind: "good", text: "Held the fall" },
    too_fast: { kind: "bad", text: "Too fast" },
    no_effect: { kind: "bad", text: "No effect seen" },
    early: { kind: "bad", text: "Out too early" },
    not_fired: { kind: "bad", text: "Not fired" },
    not_observed: { kind: "unknown", text: "Not observed" },
  };

  /* Of a parachute whose hold has no moment: whether it held the fall. */
  const NO_HOLD = { too_fast: "not enough", no_effect: "no", not_fired: "no" };

  /* A sign for each kind, so that colour is never the only one. */
  const SIGNS = { good: "✓", bad: "!", unknown: "?", waiting: "", done: "●" };

  const CHARGES = {
    ready: { kind: "good", text: "ready, igniter connected" },
    open: { kind: "bad", text: "not ready, igniter not connected" },
    fired: { kind: "done", text: "reported fired" },
    off: { kind: "unknown", text: "channel not used" },
  };

  const seconds = (s) => `${s.toFixed(1)} s`;
  const name = (role) => (role === "drogue" ? "Drogue" : role === "main" ? "Main" : role);
  const heldBy = (state, role) => {
    const d = state.deployments.find((one) => one.role === role);
    return d && d.opened_t_s !== null && (d.verdict === null || d.verdict === "confirmed");
  };

  station.words = {
    name,
    VERDICTS,
    SIGNS,
    CHARGES,

    /* The whole flight in a sentence; one that held late and fast is something to look at. */
    answer(state) {
      const { kind, text } = ANSWERS[state.answer];
      const several = state.deployments.length > 1;
      const late = state.answer === "both_confirmed" && state.alerts.some((alert) => alert.code === "late_opening");
      if (!late) return { kind, text: text(state.deployments.length) };
      return { kind: "bad", text: `${text(state.deployments.length)}, but ${several ? "the drogue " : ""}late and fast` };
    },

    phase(state) {
      if (state.source.ended && !["waiting", "down"].includes(state.phase)) return "The record ends here";
      if (state.phase === "descent" && heldBy(state, "main")) return "Under the main";
      if (state.phase === "descent" && heldBy(state, "drogue")) return "Under the drogue";
      return PHASES[state.phase] || state.phase;
    },

    clock(flightTime) {
      if (flightTime === null) return "";
      const tenths = Math.floor(Math.abs(flightTime) * 10 + 1e-6);
      const minutes = Math.floor(tenths / 600);
      const rest = (tenths % 600) / 10;
      return `T${flightTime < 0 ? "−" : "+"}${String(minutes).padStart(2, "0")}:${rest.toFixed(1).padStart(4, "0")}`;
    },

    /* When something happened, for the story's first column. */
    storyTime: (t) => (t === null ? "–" : seconds(t)),

    /* One event as a sentence; its time stands before it. */
    event(event) {
      const up = u().height(event.altitude_m);
      switch (event.name) {
        case "liftoff":
          return "Liftoff.";
        case "burnout":
          if (event.height === "not_observed") return "The motor's burnout was not observed: the link was silent.";
          return `The motor burned out ${up} up, rising at ${u().speed(event.velocity_mps)}.`;
        case "apogee":
          if (event.height === "not_observed") return "The highest point was not observed: the link was silent.";
          if (event.height === "reckoned") return `Apogee: about ${up}, not observed: reckoned from the climb before it.`;
          return `Apogee: ${up}, the highest point.`;
        case "drogue":
          return `The drogue held the fall from ${up} up.`;
        case "main":
          return `The main held the fall from ${up} up.`;
        case "touchdown":
          return "Touchdown.";
        default:
          return `${event.name}.`;
      }
    },

    /* Twice the standard deviation, as it is put behind a figure. */
    margin: (sigma) => `± ${2 * sigma < 0.95 ? Math.max(0.1, 2 * sigma).toFixed(1) : u().whole(2 * sigma)}`,

    /* Time until something expected: [figure, unit and margin]. */
    countdown({ t_s: then, t_sigma_s: sigma }, now) {
      const left = Math.max(0, Math.round(then - now));
      const margin = station.words.margin(sigma);
      if (left < 100) return [String(left), `s ${margin}`];
      return [`${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`, `${margin} s`];
    },

    eventLabel: (event) => event.name.charAt(0).toUpperCase() + event.name.slice(1),

    mark: (mark) => (mark.text === "operator" ? "Marked by the operator." : `Mark: ${mark.text}`),

    /* The three steps of one deployment: each {kind, text}. */
    steps(state, d) {
      const charge = d.charge === null ? { kind: "unknown", text: "not heard" } : CHARGES[d.charge];
      const steps = [];
      const ended = state.answer !== null || d.verdict === "not_fired";
      const unfired = ended && d.fired_t_s === null && (d.charge === "ready" || d.charge === "open");
      if (unfired) steps.push({ what: "Charge", kind: "bad", text: "not reported fired, may still be live" });
      else if (d.channel === null) steps.push({ what: "Charge", kind: "unknown", text: "no channel: not reported" });
      else steps.push({ what: "Charge", ...charge });

      if (d.fired_t_s !== null) {
        const height = d.fired_altitude_m === null ? "height not observed" : `${u().height(d.fired_altitude_m)} up`;
        const v = d.fired_velocity_mps;
        const speed = v === null ? "" : `, ${u().speed(Math.abs(v))} ${v >= 0 ? "up" : "down"}`;
        steps.push({ what: "Fired", kind: "done", text: `${seconds(d.fired_t_s)}, ${height}${speed}` });
      } else if (d.charge === "fired") {
        steps.push({ what: "Fired", kind: "done", text: "reported, time not observed" });
      } else if (d.channel === null || d.charge === null) {
        steps.push({ what: "Fired", kind: "unknown", text: "not observed" });
      } else {
        steps.push({ what: "Fired", kind: "waiting", text: ended ? "no report of it" : "not yet" });
      }

      const before = d.rate_before_mps;
      const after = d.rate_after_mps;
      const rates =
        after === null ? "" : before === null ? `down at ${u().speed(after)}` : `${u().speed(before)} → ${u().speed(after)}`;
      if (d.opened_t_s !== null) {
        const text = [`from ${seconds(d.opened_t_s)}`, rates].filter(Boolean).join(", ");
        steps.push({ what: "Held the fall", kind: d.verdict === null || d.verdict === "confirmed" ? "good" : "bad", text });
      } else if (d.verdict === null) {
        steps.push({ what: "Held the fall", kind: "waiting", text: state.liftoff_t_ms === null ? "–" : "not seen yet" });
      } else {
        const seen = [NO_HOLD[d.verdict] || "not seen", rates].filter(Boolean).join(", ");
        steps.push({ what: "Held the fall", kind: d.verdict === "not_observed" ? "unknown" : "bad", text: seen });
      }
      return steps;
    },
  };
})();
