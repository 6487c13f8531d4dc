/* Draws the curve with Plotly, straight from the store: one draw in flight, at most ten a second, old points thinned. */
window.station = window.station || {};

(() => {
  "use strict";
  const MIN_BETWEEN_MS = 100;
  const MOST_BETWEEN_MS = 600; // one draw that was held up (a laptop asleep) must not hold up those after it
  const EARLY_MS = 15; // messages come every 50 ms: the second one after a draw may be a little early
  const LATE_MS = 30; // how long past its time a draw waits for the next message
  const LIBRARY_AGAIN_MS = 2000;
  const BUCKETS = 500; // two points each: about a thousand a series for the past
  const FULL_MS = 30000; // the newest half minute is drawn at full rate
  const BAND_BUCKETS = 120;
  const SIGMAS = 2;
  const SPANS_S = [30, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1200, 1800, 2700, 3600, 7200, 14400, 28800];
  const BEFORE_S = 5;
  const MOST_AHEAD = 8; // times the flight so far
  const CONFIG = { displayModeBar: false, scrollZoom: true, doubleClick: false, showTips: false };
  const QUANTITIES = [
    { name: "altitude", axis: "yaxis", column: 1, sigma: 4, kind: "height", least: [-2, 60] },
    { name: "velocity", axis: "yaxis2", column: 2, sigma: 5, kind: "speed", least: [-10, 20] },
    { name: "acceleration", axis: "yaxis3", column: 3, sigma: 6, kind: "acceleration", least: [-20, 20] },
  ];

  let gd = null;
  let drawing = false;
  let timer = null;
  let drawnAt = -Infinity;
  let cost = 0; // a running mean of what one draw takes, ms
  let dirty = true;
  let following = true;
  let shown = {}; // the axis ranges now drawn
  let forms = null; // theme and width now drawn
  const seldomDrawn = new Map();
  const draws = { count: 0 };

  const traceIndex = (meta) => gd.data.findIndex((trace) => trace.meta === meta);

  /* Round numbers around low..high, in steps of 1, 2, 2.5 or 5 times a power of ten; the low end may lie at half a step. */
  const roundRange = (low, high) => {
    const rough = Math.max(high - low, 1e-9) / 5;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 2.5, 5, 10].map((m) => m * power).find((s) => s >= rough);
    return [Math.floor((4 * low) / step) * (step / 4), Math.ceil((2 * high) / step) * (step / 2)];
  };

  /* Up to the newest point, and to what is expected, if that does not press the flight so far into a corner. */
  const flightRange = (columns, liftoff, state) => {
    const last = columns[0].length ? (columns[0][columns[0].length - 1] - liftoff) / 1000 : 0;
    const expected = station.ahead.end(state);
    const wanted = Math.max(last + 0.5, Math.min(expected === null ? 0 : expected, MOST_AHEAD * last));
    return [-BEFORE_S, SPANS_S.find((span) => span >= wanted) || wanted + 60];
  };

  const extremes = (values, start, stop, least) => {
    let [low, high] = least;
    for (let i = start; i < stop; i += 1) {
      if (values[i] < low) low = values[i];
      if (values[i] > high) high = values[i];
    }
    return [low, high];
  };

  /* What of the store is drawn for the times `from`..`to` (ms): thinned up to the newest half minute. */
  const visible = (columns, from, to) => {
    const times = columns[0];
    const start = Math.max(0, station.thin.lowerBound(times, from) - 1);
    const stop = Math.min(times.length, station.thin.lowerBound(times, to) + 1);
    const newest = times.length ? times[times.length - 1] - FULL_MS : 0;
    const cut = Math.min(stop, Math.max(start, station.thin.lowerBound(times, newest)));
    return { start, cut, stop };
  };

  const seriesOf = (columns, column, factor, liftoff, { start, cut, stop }) => {
    const times = columns[0];
    const values = columns[column];
    const x = [];
    const y = [];
    const put = (i) => {
      x.push((times[i] - liftoff) / 1000);
      y.push(values[i] * factor);
    };
    if (cut - start > 2 * BUCKETS) station.thin.rowsToKeep(times, [values], start, cut, BUCKETS).forEach(put);
    else for (let i = start; i < cut; i += 1) put(i);
    for (let i = cut; i < stop; i += 1) put(i);
    return { x, y };
  };

  const bandOf = (columns, { column, sigma }, factor, liftoff, { start, stop }) => {
    const x = [];
    const upper = [];
    const lower = [];
    const step = Math.max(1, Math.floor((stop - start) / BAND_BUCKETS));
    for (let i = start; i < stop; i = i + step < stop || i === stop - 1 ? i + step : stop - 1) {
      const half = SIGMAS * columns[sigma][i];
      x.push((columns[0][i] - liftoff) / 1000);
      upper.push((columns[column][i] + half) * factor);
      lower.push((columns[column][i] - half) * factor);
    }
    return { x: x.concat(x.slice().reverse()), y: upper.concat(lower.reverse()) };
  };

  const followRanges = (columns, liftoff, state) => {
    const ranges = { xaxis: flightRange(columns, liftoff, state) };
    const system = station.units.system();
    for (const q of QUANTITIES) {
      const factor = system[q.kind].factor;
      const values = columns[q.column];
      const [low, high] = extremes(values, 0, values.length, q.least);
      const top = Math.max(high, station.ahead.top(state, q.name));
      ranges[q.axis] = roundRange(low * factor, top * factor * 1.02);
    }
    return ranges;
  };

  const sameRange = (a, b) => a && b && a[0] === b[0] && a[1] === b[1];

  const look = () => {
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => style.getPropertyValue(name).trim();
    return {
      ink: colour("--ink"),
      grid: colour("--grid"),
      paper: colour("--paper"),
      faint: colour("--faint"),
      altitude: colour("--altitude"),
      velocity: colour("--velocity"),
      acceleration: colour("--acceleration"),
    };
  };

  /* Colours of the viewer's theme and sizes for this screen; only when they have changed. */
  const formLayout = () => {
    const narrow = gd.clientWidth < 500;
    const rem = station.fit.rem();
    const key = `${station.settings.get("theme")} ${narrow} ${rem}`;
    if (key === forms) return {};
    forms = key;
    const colours = look();
    const layout = { "font.color": colours.ink, "font.size": Math.round(0.93 * rem), "xaxis.nticks": narrow ? 6 : 9 };
    layout.margin = { l: Math.round(4.1 * rem), r: 10, t: Math.round(4.9 * rem), b: Math.round(2 * rem) };
    layout["yaxis2.nticks"] = layout["yaxis3.nticks"] = narrow ? 3 : 4;
    for (const axis of ["xaxis", ...QUANTITIES.map((q) => q.axis)]) {
      layout[`${axis}.gridcolor`] = colours.grid;
      layout[`${axis}.zerolinecolor`] = colours.ink;
      layout[`${axis}.tickfont.color`] = colours.ink;
      layout[`${axis}.fixedrange`] = narrow; // a phone's finger scrolls the page
    }
    const trace = (meta) => gd.data[traceIndex(meta)];
    for (const q of QUANTITIES) {
      trace(q.name).line.color = colours[q.name];
      trace(`${q.name} band`).fillcolor = `${colours[q.name]}40`;
    }
    for (const name of ["altitude", "velocity"]) {
      trace(`${name} ahead`).line.color = colours[name];
      trace(`${name} plan`).line.color = colours.faint;
    }
    trace("events").marker.color = colours.paper;
    trace("events").marker.line.color = colours.ink;
    const expected = trace("expected");
    expected.marker.color = colours.altitude;
    expected.error_x.color = colours.altitude;
    expected.error_y.color = colours.altitude;
    return layout;
  };

  /* Traces that most draws leave alone: only those that differ from what is drawn. */
  const seldom = (state, system, span) => {
    const events = state.events.filter((event) => event.t_s !== null);
    const traces = {
      events: {
        x: events.map((event) => event.t_s),
        y: events.map((event) => (event.height === "not_observed" ? null : event.altitude_m * system.height.factor)),
      },
      ...station.ahead.traces(state, system, span),
    };
    const { expected } = traces;
    for (const [bar, values] of [["error_x", expected.x_sigmas], ["error_y", expected.y_sigmas]]) {
      gd.data[traceIndex("expected")][bar].array = values.map((sigma) => SIGMAS * sigma);
    }
    return Object.entries(traces).filter(([meta, series]) => {
      const key = JSON.stringify(series);
      if (seldomDrawn.get(meta) === key) return false;
      seldomDrawn.set(meta, key);
      return true;
    });
  };

  const draw = () => {
    const state = station.stream.state;
    const { columns } = station.stream.store;
    if (!state) return Promise.resolve();
    const liftoff = state.liftoff_t_ms === null ? (columns[0][0] || 0) : state.liftoff_t_ms;
    const layout = formLayout();
    if (following) {
      const wanted = followRanges(columns, liftoff, state);
      for (const axis of Object.keys(wanted)) {
        if (!sameRange(wanted[axis], shown[axis])) layout[`${axis}.range`] = wanted[axis].slice();
      }
      shown = wanted;
    }
    const x = following ? shown.xaxis : gd._fullLayout.xaxis.range;
    const part = visible(columns, liftoff + 1000 * x[0], liftoff + 1000 * x[1]);
    const system = station.units.system();
    const data = { x: [], y: [] };
    const indices = [];
    const put = (meta, series) => {
      indices.push(traceIndex(meta));
      data.x.push(series.x);
      data.y.push(series.y);
    };
    for (const q of QUANTITIES) {
      const factor = system[q.kind].factor;
      put(`${q.name} band`, bandOf(columns, q, factor, liftoff, part));
      put(q.name, seriesOf(columns, q.column, factor, liftoff, part));
    }
    for (const [meta, series] of seldom(state, system, x)) put(meta, series);
    return Plotly.update(gd, data, layout, indices);
  };

  const drawNow = () => {
    timer = null;
    if (drawing || !gd || document.hidden) return;
    drawing = true;
    dirty = false;
    const began = performance.now();
    drawnAt = began;
    const { count, columns } = station.stream.store;
    const newest = columns[0][columns[0].length - 1];
    const end = () => {
      drawing = false;
      cost = 0.8 * cost + 0.2 * (performance.now() - began);
      draws.count += 1;
      draws.points = count;
      station.marks.place(gd);
      if (station.onDrawn) station.onDrawn(newest);
      if (dirty) schedule(true);
    };
    draw().then(end, (error) => {
      end();
      throw error;
    });
  };

  /* What a message brings is drawn at once if it is about time; a timer is there for when no more comes. */
  const schedule = (byMessage) => {
    dirty = true;
    if (drawing || !gd) return;
    // A slow device gets fewer draws rather than a page that answers no touch.
    const wait = Math.max(MIN_BETWEEN_MS, Math.min(MOST_BETWEEN_MS, 2 * cost)) - (performance.now() - drawnAt);
    if (byMessage && wait < EARLY_MS) {
      clearTimeout(timer);
      drawNow();
    } else if (timer === null) {
      timer = setTimeout(drawNow, Math.max(0, wait) + (byMessage ? LATE_MS : 0));
    }
  };

  const follow = (on) => {
    following = on;
    shown = {};
    const button = document.getElementById("follow-button");
    if (button) button.hidden = on;
    schedule();
  };

  /* Plotly comes after the text: its megabyte of script must not hold up what is read first. */
  const library = () =>
    new Promise((resolve) => {
      const script = document.createElement("script");
      script.src = "/assets/plotly-basic.min.js";
      script.onload = resolve;
      // The station may just be starting anew: until it is there, text without a curve.
      script.onerror = () => setTimeout(() => library().then(resolve), LIBRARY_AGAIN_MS);
      document.head.append(script);
    });

  const attach = async () => {
    const box = document.getElementById("curve");
    await library();
    const { data, layout } = JSON.parse(box.dataset.figure);
    gd = await Plotly.newPlot(box, data, layout, CONFIG);
    gd.on("plotly_relayout", (change) => {
      if (Object.keys(change).some((key) => /^[xy]axis\d?\.(range|autorange)/.test(key))) follow(false);
      else station.marks.place(gd);
    });
    gd.on("plotly_doubleclick", () => follow(true));
    document.getElementById("follow-button").addEventListener("click", () => follow(true));
    new ResizeObserver(() => Plotly.Plots.resize(gd).then(() => schedule())).observe(gd);
    schedule();
  };

  /* Show the times low..high; the curve follows no more. */
  const lookAt = (low, high) => gd && Plotly.relayout(gd, { "xaxis.range": [low, high] });

  station.curve = {
    draws,
    follow: () => follow(true),

    /* Show `factor` times as long a time, about the middle of what is shown. */
    zoom(factor) {
      if (!gd) return;
      const [low, high] = gd._fullLayout.xaxis.range;
      const half = Math.max(0.5, (factor * (high - low)) / 2);
      lookAt((low + high) / 2 - half, (low + high) / 2 + half);
    },

    /* Move by a share of what is shown, later if it is positive. */
    pan(share) {
      if (!gd) return;
      const [low, high] = gd._fullLayout.xaxis.range;
      lookAt(low + share * (high - low), high + share * (high - low));
    },

    get following() {
      return following;
    },

    start() {
      if (!document.getElementById("curve")) return;
      station.stream.onMessage((_state, { isNew }) => {
        if (isNew) shown = {};
        schedule(true);
      });
      station.settings.onChange((name) => {
        if (name === "units" && !following) follow(true);
        else schedule();
      });
      document.addEventListener("visibilitychange", () => schedule());
      attach();
    },
  };
})();
