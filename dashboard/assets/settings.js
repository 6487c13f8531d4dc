/* One viewer's own choices, kept in this browser. Every script of the page hangs on the object `station`. */
window.station = window.station || {};

(() => {
  "use strict";
  const KEY = "station-page";
  const americans = /^en-(US|LR)$|^my\b/i.test(navigator.language || "");
  const chosen = {
    units: americans ? "feet" : "metres",
    theme: window.matchMedia && window.matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light",
    sound: true,
    voice: false,
    keys: true,
  };
  const listeners = [];

  try {
    Object.assign(chosen, JSON.parse(localStorage.getItem(KEY) || "{}"));
  } catch {
    /* A browser that keeps nothing (private window) still shows the page. */
  }

  station.settings = {
    get: (name) => chosen[name],

    set(name, value) {
      chosen[name] = value;
      try {
        localStorage.setItem(KEY, JSON.stringify(chosen));
      } catch {
        /* As above. */
      }
      listeners.forEach((listener) => listener(name, value));
    },

    /* A choice for this page alone, kept nowhere. */
    fix(name, value) {
      chosen[name] = value;
    },

    /* Calls `listener(name, value)` after every choice. */
    onChange: (listener) => listeners.push(listener),
  };

  document.documentElement.dataset.theme = chosen.theme;
})();
