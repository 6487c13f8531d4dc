/* Metres and metres a second into what this viewer wants to read. */
window.station = window.station || {};

(() => {
  "use strict";
  const FEET = 1 / 0.3048; // the international foot, exact (1959 agreement)
  const MPH = 3600 / 1609.344; // the international mile, exact
  const G = 9.80665; // standard gravity, CGPM 1901

  const SYSTEMS = {
    feet: {
      name: "ft, mph",
      height: { factor: FEET, unit: "ft", spoken: "feet" },
      speed: { factor: MPH, unit: "mph", spoken: "miles an hour" },
      acceleration: { factor: 1 / G, unit: "g", spoken: "g" },
      callEvery: 500,
    },
    "feet-a-second": {
      name: "ft, ft/s",
      height: { factor: FEET, unit: "ft", spoken: "feet" },
      speed: { factor: FEET, unit: "ft/s", spoken: "feet a second" },
      acceleration: { factor: 1 / G, unit: "g", spoken: "g" },
      callEvery: 500,
    },
    metres: {
      name: "m, m/s",
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
    isKnown: (name) => Object.keys(SYSTEMS).includes(name),

    /* The system after this one: the button goes round. */
    other() {
      const names = Object.keys(SYSTEMS);
      return names[(names.indexOf(station.settings.get("units")) + 1) % names.length];
    },
    whole,
    height: (m) => `${whole(m * system().height.factor)} ${system().height.unit}`,
    speed: (mps) => `${fine(mps * system().speed.factor)} ${system().speed.unit}`,

    /* The station's own sentences come in metres: the same sentence in this viewer's units. */
    inSentence(text) {
      if (system() === SYSTEMS.metres) return text;
      const { height, speed } = system();
      const number = "(\\d+(?:\\.\\d+)?)";
      const fast = (value) => fine(value * speed.factor);
      return text
        .replace(new RegExp(`${number} to ${number} m/s`, "g"), (_, a, b) => `${fast(a)} to ${fast(b)} ${speed.unit}`)
        .replace(new RegExp(`${number} m/s`, "g"), (_, a) => `${fast(a)} ${speed.unit}`)
        .replace(new RegExp(`${number} m(?![\\w/])`, "g"), (_, a) => `${whole(a * height.factor)} ${height.unit}`);
    },
  };
})();
