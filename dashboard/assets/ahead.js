/* What is drawn beside the flight so far: what is still to come, and the plan. Values only; `curve.js` draws them. */
window.station = window.station || {};

(() => {
  "use strict";
  const STEPS = 16;

  const nothing = () => ({ x: [], y: [], x_sigmas: [], y_sigmas: [] });
  const isOld = (state) => !state.outlook || !state.estimate || state.flight_time_s === null;

  /* From the newest estimate to the expected apogee: the cubic with both ends' heights and speeds. */
  const climb = (state) => {
    const { t_s: end, altitude_m: top } = state.outlook.apogee;
    const { flight_time_s: begin, estimate } = state;
    const span = end - begin;
    const path = { x: [], height: [], speed: [] };
    if (span <= 0) return path;
    for (let i = 0; i <= STEPS; i += 1) {
      const s = i / STEPS;
      const [h, v] = [estimate.altitude_m, estimate.velocity_mps];
      path.x.push(begin + s * span);
      path.height.push((2 * s ** 3 - 3 * s ** 2 + 1) * h + (s ** 3 - 2 * s ** 2 + s) * span * v + (3 * s ** 2 - 2 * s ** 3) * top);
      path.speed.push(((6 * s ** 2 - 6 * s) * (h - top)) / span + (3 * s ** 2 - 4 * s + 1) * v);
    }
    return path;
  };

  /* Straight down to the main's height, and on to the ground. */
  const fall = (state) => {
    const { main_height: main, touchdown } = state.outlook;
    const { flight_time_s: begin, estimate } = state;
    const path = { x: [begin], height: [estimate.altitude_m], speed: [] };
    if (main && main.t_s > begin && (!touchdown || touchdown.t_s > main.t_s)) {
      path.x.push(main.t_s);
      path.height.push(Math.max(0, estimate.altitude_m + estimate.velocity_mps * (main.t_s - begin)));
    }
    if (touchdown && touchdown.t_s > begin) {
      path.x.push(touchdown.t_s);
      path.height.push(0);
    }
    return path;
  };

  const expectedOf = (state) => {
    if (isOld(state)) return null;
    if (state.phase === "coast" && state.outlook.apogee) {
      return { ...state.outlook.apogee, path: climb(state) };
    }
    if (state.phase === "descent" && (state.outlook.touchdown || state.outlook.main_height)) {
      const { touchdown } = state.outlook;
      return { t_s: null, altitude_m: 0, altitude_sigma_m: 0, ...touchdown, path: fall(state) };
    }
    return null;
  };

  const level = (value, factor, [low, high]) =>
    value === null || value === undefined ? nothing() : { x: [low, high], y: [value * factor, value * factor] };

  const planned = (state, name, factor, span) => {
    const { prediction, plan } = state;
    const column = { altitude: "altitude_m", velocity: "velocity_mps" }[name];
    if (prediction && prediction[column]) {
      const known = prediction.t_s.map((t, i) => [t, prediction[column][i]]).filter(([, value]) => value !== null);
      return { x: known.map(([t]) => t), y: known.map(([, value]) => value * factor) };
    }
    if (!plan) return nothing();
    return level({ altitude: plan.apogee_m, velocity: plan.speed_mps }[name], factor, span);
  };

  station.ahead = {
    /* Until when there is something to draw, seconds since liftoff; null if nothing is expected. */
    end(state) {
      const expected = expectedOf(state);
      if (!expected) return null;
      const last = expected.path.x[expected.path.x.length - 1];
      return Math.max(last === undefined ? 0 : last, expected.t_s === null ? 0 : expected.t_s + 2 * expected.t_sigma_s);
    },

    /* How far up a plot must reach for what is expected and planned, metres or metres a second. */
    top(state, name) {
      const plan = planned(state, name, 1, [0, 0]).y;
      const expected = name === "altitude" ? expectedOf(state) : null;
      return Math.max(0, ...plan, expected ? expected.altitude_m + 2 * expected.altitude_sigma_m : 0);
    },

    /* What the plan says of the highest point, as a label: {text, value} or null. */
    planLabel(state) {
      const values = planned(state, "altitude", 1, [0, 0]).y;
      const top = values.length ? Math.max(...values) : null;
      return top === null ? null : { text: `plan ${station.units.height(top)}`, value: top };
    },

    traces(state, system, span) {
      const expected = expectedOf(state);
      const path = expected ? expected.path : { x: [], height: [], speed: [] };
      const { height, speed } = system;
      const point = expected && expected.t_s !== null;
      return {
        "altitude plan": planned(state, "altitude", height.factor, span),
        "velocity plan": planned(state, "velocity", speed.factor, span),
        "altitude ahead": { x: path.x, y: path.height.map((m) => m * height.factor) },
        "velocity ahead": { x: path.speed.length ? path.x : [], y: path.speed.map((v) => v * speed.factor) },
        expected: point
          ? {
              x: [expected.t_s],
              y: [expected.altitude_m * height.factor],
              x_sigmas: [expected.t_sigma_s],
              y_sigmas: [expected.altitude_sigma_m * height.factor],
            }
          : nothing(),
      };
    },
  };
})();
