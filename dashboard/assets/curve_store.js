/* The curve's points as this viewer has them: none lost, none doubled, and not more than a long flight needs. */
window.station = window.station || {};

(() => {
  "use strict";
  const FULL_RATE = 3000; // newest points that are never thinned: 30 s at 100 a second
  const MOST = 14000;
  const COLUMNS = 7; // t_ms, altitude, velocity, acceleration, and their standard deviations

  const emptyColumns = () => Array.from({ length: COLUMNS }, () => []);

  class CurveStore {
    constructor() {
      this.session = "";
      this.clear();
    }

    clear() {
      this.columns = emptyColumns();
      this.count = 0; // index of the next point, counted from the session's first
      this.version = (this.version || 0) + 1;
    }

    get length() {
      return this.columns[0].length;
    }

    /* Take `rows` whose first has index `from`. Returns false on a gap: then the whole must be asked for again. */
    take(from, rows, next, isWhole) {
      if (isWhole && from === 0) {
        this.clear();
        this.append(rows);
        this.count = next;
        return true;
      }
      if (from > this.count) return false;
      const fresh = rows.slice(this.count - from);
      this.append(fresh);
      this.count = Math.max(this.count, next);
      return true;
    }

    append(rows) {
      for (const row of rows) {
        for (let c = 0; c < COLUMNS; c += 1) this.columns[c].push(row[c]);
      }
      if (rows.length) this.version += 1;
      if (this.length > MOST) this.thinOld();
    }

    thinOld() {
      const cut = this.length - FULL_RATE;
      const keep = station.thin.rowsToKeep(this.columns[0], [1, 2, 3].map((c) => this.columns[c]), 0, cut, 600);
      this.columns = this.columns.map((column) => keep.map((i) => column[i]).concat(column.slice(cut)));
    }
  }

  /* Index of the first time that is not before `t`; times rise. */
  const lowerBound = (times, t) => {
    let low = 0;
    let high = times.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (times[middle] < t) low = middle + 1;
      else high = middle;
    }
    return low;
  };

  station.thin = {
    lowerBound,

    /* Of points start..stop: in each of `buckets` spans of equal time, where each series is least and greatest. */
    rowsToKeep(times, series, start, stop, buckets) {
      if (stop <= start) return [];
      const first = times[start];
      const span = Math.max(times[stop - 1] - first, 1e-9);
      const kept = new Set();
      let i = start;
      for (let bucket = 0; bucket < buckets && i < stop; bucket += 1) {
        const end = bucket === buckets - 1 ? stop : Math.min(stop, lowerBound(times, first + (span * (bucket + 1)) / buckets));
        if (end <= i) continue;
        for (const values of series) {
          let least = i;
          let greatest = i;
          for (let j = i + 1; j < end; j += 1) {
            if (values[j] < values[least]) least = j;
            if (values[j] > values[greatest]) greatest = j;
          }
          kept.add(least);
          kept.add(greatest);
        }
        i = end;
      }
      return [...kept].sort((a, b) => a - b);
    },
  };

  station.CurveStore = CurveStore;
})();
