/* The box of one flight: its figures, what the owner says of it, and the way to its pages. */
(() => {
  "use strict";
  const { make, post, open, signed, known, duration, VERDICTS, ANSWERS } = station.front;

  const field = (name, words, value, { hint = "", all = false, area = false, type = "text", most } = {}) => {
    const label = make("label", all ? "all" : "", words);
    const input = make(area ? "textarea" : "input");
    input.name = name;
    input.value = value || "";
    input.maxLength = most;
    if (!area) input.type = type;
    if (hint) input.placeholder = hint;
    label.append(input);
    return label;
  };

  const figures = (flight) => {
    const { height, speed } = station.units;
    const box = make("dl", "figures");
    const rows = [
      ["Flight", flight.has_liftoff ? signed(ANSWERS[flight.verdict]) : "No liftoff observed"],
      ["Drogue", flight.drogue ? signed(VERDICTS[flight.drogue]) : "–"],
      ["Main", flight.main ? signed(VERDICTS[flight.main]) : "–"],
      ["Apogee", known(flight.apogee_m, height)],
      ["Fastest, going up", known(flight.max_speed_mps, speed)],
      ["Landing", known(flight.landing_rate_mps, speed)],
      ["In the air", known(flight.flight_time_s, duration)],
      ["Impulse class", known(flight.impulse_class, (letter) => letter)],
      ["Total impulse", known(flight.total_impulse_ns, (ns) => `${station.units.whole(ns)} N s`)],
      ["Lines lost", `${(100 * flight.loss_fraction).toFixed(1)} %`],
    ];
    if (flight.unheard !== null) rows.push(["Lines that only the read-out has", String(flight.unheard)]);
    for (const [what, much] of rows) {
      const pair = make("div");
      const value = make("dd");
      value.append(much);
      pair.append(make("dt", "", what), value);
      box.append(pair);
    }
    return box;
  };

  /* Show it; `onSaved()` is called when the owner's words have been kept. */
  station.showFlight = (flight, { operator, onSaved }) => {
    const box = make("dialog");
    const title = make("h2", "", `${flight.rocket || flight.file}${flight.day ? `, ${flight.day}` : ""}`);
    title.id = "flight-title";
    box.setAttribute("aria-labelledby", "flight-title");
    const form = make("form");
    const fields = make("div", "fields");
    const { note } = flight;
    fields.append(
      field("rocket", "Rocket", note.rocket, { hint: flight.plan_rocket || flight.unit_name || "", most: 60 }),
      field("motor", "Motor", note.motor, { hint: flight.plan_motor || "", most: 60 }),
      field("day", "Day", note.day, { type: "date", most: 10 }),
      field("remarks", "Remarks", note.remarks || flight.remarks, { all: true, area: true, most: 2000 }),
    );
    const answer = make("p", "said");
    answer.setAttribute("role", "status");
    const acts = make("div", "row");
    const button = (words, act, className = "") => {
      const one = make("button", className, words);
      one.type = "button";
      one.addEventListener("click", () => act(one));
      acts.append(one);
      return one;
    };
    const save = make("button", "strong", "Save");
    save.type = "submit";
    save.disabled = !operator;
    acts.append(save);
    button("Replay", (one) => open(one, { do: "replay", file: flight.file })).disabled = !operator;
    if (flight.has_liftoff) button("After landing", () => location.assign(`/after/${encodeURIComponent(flight.file)}`));
    if (flight.has_liftoff) {
      const share = make("a", "", "Save a page to share");
      share.href = `/share/${encodeURIComponent(flight.file)}`;
      share.download = "";
      acts.append(share);
    }
    button("Close", () => box.close());
    if (flight.note_problem) {
      answer.textContent = `The note beside the log cannot be read and is left as it is: ${flight.note_problem}`;
      answer.classList.add("bad");
      save.disabled = true;
    }
    form.append(fields, answer, acts);
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      const changes = {};
      for (const name of ["rocket", "motor", "day", "remarks"]) {
        const before = name === "remarks" ? note.remarks || flight.remarks : note[name];
        const value = form.elements[name].value;
        if (value !== (before || "")) changes[name] = value;
      }
      if (!Object.keys(changes).length) {
        box.close();
        return;
      }
      save.disabled = true;
      try {
        await post("/api/logbook/note", { file: flight.file, changes });
        box.close();
        onSaved();
      } catch (error) {
        answer.textContent = error.message;
        answer.classList.add("bad");
        save.disabled = false;
      }
    });
    box.append(title, make("p", "minor", flight.file), figures(flight), form);
    box.addEventListener("close", () => box.remove());
    document.body.append(box);
    box.showModal();
  };
})();
