/* How wide letters are in this device's own font, in parts of their size, so that figures can fill the room they have. */
window.station = window.station || {};

(() => {
  "use strict";
  const pen = document.createElement("canvas").getContext("2d");
  const known = new Map();

  const width = (text, weight) => {
    const key = `${weight} ${text}`;
    if (!known.has(key)) {
      if (known.size > 500) known.clear();
      pen.font = `${weight} 100px ${getComputedStyle(document.body).fontFamily}`;
      known.set(key, pen.measureText(text).width / 100);
    }
    return known.get(key);
  };

  station.fit = {
    width,

    /* The page's own unit of size, px. */
    rem: () => parseFloat(getComputedStyle(document.documentElement).fontSize),

    /* Tell the style sheet how wide a digit is. */
    start: () => document.documentElement.style.setProperty("--digit", width("0", 700).toFixed(4)),
  };
})();
