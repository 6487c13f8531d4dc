/* Where the rocket is: range and bearing from the pad, how old and how good that is, and the plan of the ground. */
window.station = window.station || {};

(() => {
  "use strict";
  const OLD_S = 5; // fixes come once a second or more often
  const COMPASS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
  let drawn = "";

  const units = () => station.units;
  const degrees = (bearing) => `${String(Math.round(bearing) % 360).padStart(3, "0")}°`;
  const compass = (bearing) => COMPASS[Math.round(bearing / 45) % 8];
  const direction = (bearing) => `${compass(bearing)} ${degrees(bearing)}`;
  const within = (sigma) => `give or take ${units().height(2 * sigma)}`;
  const coordinates = (place) => `${place.latitude_deg.toFixed(6)}, ${place.longitude_deg.toFixed(6)}`;
  const ageText = (s) => (s < 10 ? `${s.toFixed(1)} s` : s < 100 ? `${Math.floor(s)} s` : `${Math.floor(s / 60)} min`);

  const isShown = (state) =>
    Boolean(state.place || state.drift) && (state.answer !== null || ["descent", "down"].includes(state.phase));

  /* How old the fix is now: by the altimeter's own clock up to the newest line, since then by ours. */
  const ageOf = (state) => {
    const newest = Math.max(state.estimate ? state.estimate.t_ms : 0, state.link.last_t_ms || 0);
    return Math.max(0, newest - state.place.t_ms + (state.source.ended ? 0 : station.stream.age() || 0)) / 1000;
  };

  const fromPad = (place) => {
    if (place.range_m === null) return { range: "–", to: "the pad's place was not heard" };
    const near = place.bearing_sigma_deg === null;
    return { range: units().height(place.range_m), to: near ? "too near the pad for a direction" : direction(place.bearing_deg) };
  };

  const byFixes = (state) => {
    const { place } = state;
    const age = ageOf(state);
    const landed = place.kind === "landed";
    const old = !landed && (age > OLD_S || state.source.ended);
    const { range, to } = fromPad(place);
    const satellites = place.satellites === null ? "satellites not told" : `${place.satellites} satellites`;
    const sigma = place.range_sigma_m === null ? place.sigma_m : place.range_sigma_m;
    const { onward } = place;
    let note = "";
    if (onward) {
      const there = onward.range_m === null ? "" : `, ${units().height(onward.range_m)} ${compass(onward.bearing_deg)} of the pad`;
      note = `Reckoned, if it drifts on so: down ${units().height(onward.further_m)} further${there}, ${within(onward.sigma_m)}.`;
    } else if (!landed && place.altitude_m !== null && place.altitude_m > 10) {
      note = `It was ${units().height(place.altitude_m)} up then.`;
    }
    const ended = state.source.ended;
    const seen = ended && place.t_s !== null ? `${place.t_s.toFixed(1)} s after liftoff` : `${ageText(age)} ago`;
    return {
      title: landed ? "Where it lies" : old ? `Last seen ${seen}` : "Where it is",
      range,
      to,
      quality: [within(sigma), `${place.quality}, ${satellites}`, ended ? "" : `fix ${ageText(age)} old`].filter(Boolean).join(" · "),
      note,
      where: [`${landed || !old ? "Rocket" : "Last seen"} ${coordinates(place)}`, onward && old ? `Reckoned ${coordinates(onward)}` : ""]
        .filter(Boolean)
        .join("\n"),
      old,
    };
  };

  const byWind = ({ drift }) => {
    const { whole, system } = units();
    const { factor, unit } = system().height;
    const nearest = drift.least_m < 5 ? "0" : whole(drift.least_m * factor);
    const blows = drift.wind_from_deg === null ? "" : ` from the ${compass(drift.wind_from_deg)}`;
    return {
      title: "Where to look first",
      range: `${nearest} to ${whole(drift.most_m * factor)} ${unit}`,
      to: drift.from_deg === null ? "down the wind" : compass(drift.wind_from_deg + 180),
      quality: drift.from_deg === null ? "" : `from ${degrees(drift.from_deg)} to ${degrees(drift.to_deg)}`,
      note: `No satellite fix. The plan's wind, ${units().speed(drift.wind_mps)}${blows}, would have taken it into this stretch.`,
      where: "",
      old: false,
    };
  };

  const spotOf = (part, points, radius, label) => {
    if (part.range_m !== null) return { ...station.planView.away(part.range_m, part.bearing_deg), radius, label };
    if (!points.length) return null;
    const [north, east] = points[points.length - 1];
    return { north, east, radius, label };
  };

  const model = (state, told) => {
    const { height } = units().system();
    const says = `Plan of the ground, north up. ${told.title}: ${told.range}, ${told.to}. ${told.quality}.`;
    const { place, drift } = state;
    if (!place) {
      const stretch = { least: drift.least_m, most: drift.most_m, from: drift.from_deg, to: drift.to_deg };
      return { pad: true, points: [], wedge: stretch, height, old: false, says };
    }
    const rocket = spotOf(place, place.points, 2 * place.sigma_m, told.old ? "Last seen" : "Rocket");
    const onward = place.onward && place.onward.range_m !== null ? spotOf(place.onward, [], 2 * place.onward.sigma_m, "Reckoned") : null;
    return { pad: place.range_m !== null, points: place.points, rocket, onward, height, old: told.old, says };
  };

  const draw = (state, told) => {
    const box = document.getElementById("plan-view");
    if (!box) return;
    let svg = box.querySelector("svg");
    if (!svg) {
      svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
      svg.setAttribute("role", "img");
      box.replaceChildren(svg);
      drawn = "";
    }
    const shown = model(state, told);
    const { width, height } = svg.getBoundingClientRect();
    const key = JSON.stringify([{ ...shown, says: "" }, width, height]);
    if (key !== drawn) {
      drawn = key;
      station.planView.draw(svg, shown);
    }
  };

  station.place = {
    /* A fact about the satellites for before the flight, or none. */
    readiness(state) {
      if (state.pad_place) {
        const { fix, pad_place: pad } = state;
        const number = fix && fix.satellites !== null ? `${fix.satellites}, ` : "";
        return [["good", "Satellites", `${number}pad within ${units().height(2 * pad.sigma_m)}`]];
      }
      return Object.keys(state.fixes_refused).length ? [["waiting", "Satellites", "no fix yet"]] : [];
    },

    refresh(state) {
      const panel = document.getElementById("where");
      if (!panel) return;
      const shown = isShown(state);
      document.body.dataset.where = shown ? "yes" : "no";
      if (panel.hidden === shown) panel.hidden = !shown;
      if (!shown) return;
      const told = state.place ? byFixes(state) : byWind(state);
      panel.classList.toggle("old", told.old);
      const { say } = station.panels;
      say("where-title", told.title);
      say("where-range", told.range);
      say("where-direction", told.to);
      say("where-quality", told.quality);
      say("where-note", told.note);
      say("where-coordinates", told.where);
      draw(state, told);
    },
  };
})();
