/* The start page: ports, latest flights and what is open, asked for every few seconds. */
(() => {
  "use strict";
  const { byId, make, say, get, post, attempt, open, signed, known, ANSWERS } = station.front;
  const EVERY_MS = 3000;
  const KINDS = { live: "Listening to", replay: "Replay of", demo: "Invented flight" };
  const shown = {};
  let told = null;

  /* Whether a part of what was told has changed: what has not stays, and keeps its focus. */
  const isNew = (name, value) => {
    const text = JSON.stringify(value);
    if (shown[name] === text) return false;
    shown[name] = text;
    return true;
  };

  const choose = (select, choices, chosen) => {
    const before = select.value;
    select.replaceChildren(
      ...choices.map(([value, words]) => {
        const option = make("option", "", words);
        option.value = value;
        return option;
      }),
    );
    select.value = choices.some(([value]) => value === before) ? before : chosen;
  };

  const drawPorts = () => {
    const box = byId("ports");
    const before = (box.querySelector("input:checked") || {}).value;
    const likely = told.ports.filter((port) => port.likely);
    const chosen = before || (likely.length === 1 ? likely[0].name : "");
    box.replaceChildren(
      ...told.ports.map((port) => {
        const label = make("label");
        const radio = make("input");
        Object.assign(radio, { type: "radio", name: "port", value: port.name, checked: port.name === chosen });
        const words = make("span");
        words.append(make("b", "", port.name), document.createTextNode(` ${port.description || ""}`));
        if (port.likely) words.append(make("span", "minor", " likely a receiver"));
        label.append(radio, words);
        return label;
      }),
    );
    if (told.ports_problem) box.append(make("p", "", told.ports_problem));
    else if (!told.ports.length)
      box.append(make("p", "quiet", "No serial port is plugged in. Some cables only charge: try another one."));
    byId("live-button").disabled = !told.operator || !told.ports.length;
  };

  const drawFlight = (flight) => {
    const line = make("li");
    const name = flight.rocket || flight.file;
    const what = `${name}, ${flight.day || "day not known"}`;
    line.append(
      make("span", "", flight.day || "–"),
      make("span", "name", name),
      make("span", "amount", known(flight.apogee_m, station.units.height)),
      flight.has_liftoff ? signed(ANSWERS[flight.verdict]) : make("span", "", "No liftoff"),
    );
    const acts = make("div", "acts");
    const replay = make("button", "", "Replay");
    replay.type = "button";
    replay.setAttribute("aria-label", `Replay ${what}`);
    replay.disabled = !told.operator;
    replay.addEventListener("click", () => open(replay, { do: "replay", file: flight.file }));
    acts.append(replay);
    if (flight.has_liftoff) {
      const after = make("button", "", "After landing");
      after.type = "button";
      after.setAttribute("aria-label", `After landing: ${what}`);
      after.addEventListener("click", () => location.assign(`/after/${encodeURIComponent(flight.file)}`));
      acts.append(after);
    }
    line.append(acts);
    return line;
  };

  const drawFlights = () => {
    byId("flights").replaceChildren(...told.recent.map(drawFlight));
    const all = byId("all-flights");
    all.replaceChildren();
    if (told.flights > told.recent.length) {
      const link = make("a", "", `All ${told.flights} flights are in the logbook`);
      link.href = "/logbook";
      all.append(link);
    } else if (!told.flights && told.progress === null) {
      all.textContent = "No flight is recorded yet.";
    }
    byId("folder").textContent = told.folder;
  };

  const drawRunning = () => {
    byId("running-box").hidden = !told.running.length;
    byId("running").replaceChildren(
      ...told.running.map((one) => {
        const line = make("li");
        const words = `${KINDS[one.kind]} ${one.name}${one.log ? `, recorded in ${one.log}` : ""}`;
        const link = make("a", "", "Open its page");
        link.href = one.address;
        link.setAttribute("aria-label", `Open the page: ${words}`);
        const stop = make("button", "", one.kind === "replay" ? "Close" : "Stop");
        stop.type = "button";
        stop.setAttribute("aria-label", `${stop.textContent}: ${words}`);
        stop.disabled = !told.operator;
        stop.addEventListener("click", () => {
          if (one.kind === "live" && !window.confirm(`Stop listening to ${one.name}? Nothing more will be recorded.`)) return;
          attempt(stop, () => post("/api/open", { do: "close", number: one.number })).then(refresh);
        });
        line.append(make("span", "", words), link, stop);
        return line;
      }),
    );
  };

  const draw = () => {
    station.front.showProgress(told.progress);
    if (isNew("ports", [told.ports, told.ports_problem, told.operator])) drawPorts();
    if (isNew("bauds", told.bauds)) choose(byId("baud"), told.bauds.map((baud) => [String(baud), `${baud} baud`]), String(told.baud));
    if (isNew("plans", told.plans)) choose(byId("plan"), [["", "none"], ...told.plans.map((name) => [name, name])], "");
    if (isNew("flights", [told.recent, told.flights, told.progress === null, station.settings.get("units")])) drawFlights();
    if (isNew("running", told.running)) drawRunning();
    byId("demo-button").disabled = byId("end-button").hidden = !told.operator;
  };

  const refresh = async () => {
    try {
      told = await get("/api/front");
      draw();
    } catch (error) {
      say(error.message, { bad: true });
    }
  };

  byId("live-form").addEventListener("submit", (event) => {
    event.preventDefault();
    const port = document.querySelector("#ports input:checked");
    if (!port) {
      say("Choose the port that the receiver is plugged into.", { bad: true });
      return;
    }
    const body = { do: "live", port: port.value, baud: Number(byId("baud").value), plan: byId("plan").value || null };
    open(byId("live-button"), body);
  });
  byId("demo-button").addEventListener("click", () => open(byId("demo-button"), { do: "demo" }));
  byId("end-button").addEventListener("click", () => {
    const recording = told.running.some((one) => one.kind === "live");
    const words = recording ? "A flight is being recorded. End the station all the same?" : "End the station?";
    if (window.confirm(words)) attempt(byId("end-button"), () => post("/api/open", { do: "end" })).then((done) => done && say("The station has ended. This page can be closed."));
  });
  station.front.onUnits(() => told && draw());
  const again = () => refresh().finally(() => setTimeout(again, told && told.progress ? 1000 : EVERY_MS));
  again();
})();
