/* Listens to the station: keeps the latest state and the curve, and comes back by itself after a cut. */
window.station = window.station || {};

(() => {
  "use strict";
  const SILENT_MS = 4000; // the station says something every second: after this the line is taken up anew
  const RETRY_MS = 1500;
  const MINUTE_S = 60;

  const store = new station.CurveStore();
  const listeners = [];
  let source = null;
  let lastId = "";
  let arrivedAt = null; // performance.now() of the last message
  let ageMs = null;
  let retry = null;
  let state = null;

  const connect = () => {
    clearTimeout(retry);
    retry = null;
    if (source) source.close();
    source = new EventSource(lastId ? `/api/stream?from=${encodeURIComponent(lastId)}` : "/api/stream");
    source.addEventListener("whole", (event) => take(event, true));
    source.addEventListener("message", (event) => take(event, false));
    source.addEventListener("error", () => {
      if (source.readyState === EventSource.CLOSED) again();
    });
  };

  const again = () => {
    if (retry === null) retry = setTimeout(connect, RETRY_MS);
  };

  const take = (event, isWhole) => {
    const body = JSON.parse(event.data);
    const at = event.lastEventId.lastIndexOf(":");
    const session = event.lastEventId.slice(0, at);
    const next = Number(event.lastEventId.slice(at + 1));
    if (!isWhole && session !== store.session) return again();
    const isNew = session !== store.session;
    store.session = session;
    if (body.rows && !store.take(body.from, body.rows, next, isWhole)) {
      lastId = `${session}:${store.count}`;
      return again();
    }
    if (!body.rows && isWhole) store.take(0, [], next, true);
    lastId = event.lastEventId;
    arrivedAt = performance.now();
    ageMs = body.age_ms;
    if (isWhole) state = body.state;
    else if (body.set) change(body.set);
    if (body.rows && body.rows.length) followRow(body.rows[body.rows.length - 1]);
    else if (state.estimate) state.flight_time_s = state.estimate.t_s;
    listeners.forEach((listener) => listener(state, { isWhole, isNew }));
    return undefined;
  };

  /* A part comes whole, but of the last minute only the seconds that are new or have grown. */
  const change = (set) => {
    const minute = state.last_minute;
    Object.assign(state, set);
    if (!set.last_minute) return;
    const seconds = new Map(minute.concat(set.last_minute).map((second) => [second[0], second]));
    const newest = Math.max(...seconds.keys());
    state.last_minute = [...seconds.values()].filter(([at]) => at > newest - MINUTE_S);
  };

  /* The last point is the estimate: messages do not say it twice. */
  const followRow = (row) => {
    const liftoff = state.liftoff_t_ms;
    state.flight_time_s = liftoff === null ? null : (row[0] - liftoff) / 1000;
    state.estimate = {
      t_ms: row[0],
      t_s: state.flight_time_s,
      altitude_m: row[1],
      velocity_mps: row[2],
      acceleration_mps2: row[3],
      altitude_sigma_m: row[4],
      velocity_sigma_mps: row[5],
      acceleration_sigma_mps2: row[6],
    };
  };

  const pace = () => (state && state.playback ? (state.playback.playing ? state.playback.speed : 0) : 1);

  station.stream = {
    store,

    get state() {
      return state;
    },

    /* How long ago the altimeter was last heard, ms of the flight's clock, or null before its first line. */
    age() {
      return ageMs === null ? null : ageMs + (performance.now() - arrivedAt) * pace();
    },

    /* How long ago the station last said anything to this page, ms. */
    silence: () => (arrivedAt === null ? Infinity : performance.now() - arrivedAt),

    onMessage: (listener) => listeners.push(listener),

    start() {
      connect();
      setInterval(() => {
        if (arrivedAt !== null && performance.now() - arrivedAt > SILENT_MS && retry === null) connect();
      }, SILENT_MS);
    },
  };
})();
