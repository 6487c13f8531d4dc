/* Metres and metres a second into what this viewer wants to read. */
window.station = window.station || {};

(() => {
  "use strict";
  const FEET = 1 / 0.3048; // the international foot, exact (1959 agreement)
  const MPH = 3600 / 1609.344; // the international mile, exact
  const G = 9.80665; // standard gravity, CGPM 1901

  const SYSTEMS = {
    feet: {
      name: "Feet, mph",
      height: { factor: FEET, unit: "ft", spoken: "feet" },
      speed: { factor: MPH, unit: "mph", spoken: "miles an hour" },
      acceleration: { factor: 1 / G, unit: "g", spoken: "g" },
      callEvery: 500,
    },
    metres: {
      name: "Metres, m/s",
      height: { factor: 1, unit: "m", spoken: "metres" },
      speed: { factor: 1, unit: "m/s", spoken: "metres a second" },
      acceleration: { factor: 1, unit: "m/s²", spoken: "metres a second squared" },
      callEvery: 100,
    },
  };

  const system = () => SYSTEMS[station.settings.get("units")] || SYSTEMS.metres;
  const whole = (value) => {
    const rounded = Math.round(value);
    return (rounded === 0 ? 0 : rounded).toLocaleString("en-US");
  };
  /* One decimal where a whole number would hide the difference between two parachutes. */
  const fine = (value) => (Math.abs(value) < 20 ? (Math.round(value * 10) / 10 || 0).toFixed(1) : whole(value));

  station.units = {
    system,
    other: () => (system() === SYSTEMS.feet ? "metres" : "feet"),
    whole,
    height: (m) => `${whole(m * system().height.factor)} ${system().height.unit}`,
    speed: (mps) => `${fine(mps * system().speed.factor)} ${system().speed.unit}`,

    /* The station's own sentences come in metres: the same sentence in this viewer's units. */
    inSentence(text) {
      if (system() === SYSTEMS.metres) return text;
      const number = "(\\d+(?:\\.\\d+)?)";
      return text
        .replace(new RegExp(`${number} to ${number} m/s`, "g"), (_, a, b) => `${fine(a * MPH)} to ${fine(b * MPH)} mph`)
        .replace(new RegExp(`${number} m/s`, "g"), (_, a) => `${fine(a * MPH)} mph`)
        .replace(new RegExp(`${number} m(?![\\w/])`, "g"), (_, a) => `${whole(a * FEET)} ft`);
    },
  };
})();
