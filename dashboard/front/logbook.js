/* The logbook's table: made once for each flight, sorted and searched in place. */
(() => {
  "use strict";
  const { byId, make, say, get, signed, known, duration, VERDICTS } = station.front;
  const ORDER = Object.keys(VERDICTS);
  const rank = (verdict) => (verdict === null ? null : ORDER.indexOf(verdict));
  const lower = (text) => (text ? text.toLocaleLowerCase() : null);

  /* What a column is called, what it sorts by, whether the greatest comes first, and its cell. */
  const COLUMNS = [
    { name: "Date", value: (f) => (f.day ? f.day + (f.flown_at || "") : null), down: true, cell: (f) => f.day || "–" },
    { name: "Rocket", value: (f) => lower(f.rocket), cell: (f) => `${f.rocket || "–"}${f.has_liftoff ? "" : " (no liftoff)"}` },
    { name: "Motor", value: (f) => lower(f.motor), cell: (f) => f.motor || "–", seldom: true },
    { name: "Apogee", value: (f) => f.apogee_m, down: true, number: true, cell: (f) => known(f.apogee_m, station.units.height) },
    { name: "Speed", value: (f) => f.max_speed_mps, down: true, number: true, seldom: true, cell: (f) => known(f.max_speed_mps, station.units.speed) },
    { name: "Drogue", value: (f) => rank(f.drogue), down: true, seldom: true, cell: (f) => (f.drogue ? signed(VERDICTS[f.drogue]) : "–") },
    { name: "Main", value: (f) => rank(f.main), down: true, seldom: true, cell: (f) => (f.main ? signed(VERDICTS[f.main]) : "–") },
    { name: "Landing", value: (f) => f.landing_rate_mps, down: true, number: true, seldom: true, cell: (f) => known(f.landing_rate_mps, station.units.speed) },
    { name: "Remarks", value: (f) => lower(f.remarks), remarks: true, seldom: true, cell: (f) => f.remarks.replaceAll("\n", " / ") },
  ];
  const rows = new Map();
  const ticked = new Set();
  let told = null;
  let sortBy = COLUMNS[0];
  let down = true;

  const nameOf = (flight) => `${flight.rocket || flight.file}, ${flight.day || "day not known"}`;

  const searched = (flight) =>
    [
      flight.day,
      flight.rocket,
      flight.motor,
      flight.unit_name,
      flight.file,
      flight.remarks,
      flight.drogue && `drogue ${VERDICTS[flight.drogue][1]}`,
      flight.main && `main ${VERDICTS[flight.main][1]}`,
      flight.has_liftoff ? "" : "no liftoff",
    ]
      .filter(Boolean)
      .join("\n")
      .toLocaleLowerCase();

  const tick = async (flight, box) => {
    if (!box.checked) {
      ticked.delete(flight.file);
      station.chart.remove(flight.file);
      return;
    }
    if (station.chart.isFull()) {
      box.checked = false;
      say(`At most ${station.chart.MOST} curves fit: remove one first.`, { bad: true });
      return;
    }
    try {
      const curve = await get(`/api/logbook/curve/${encodeURIComponent(flight.file)}`);
      if (!box.checked || ticked.has(flight.file) || station.chart.isFull()) return;
      ticked.add(flight.file);
      station.chart.add(flight.file, nameOf(flight), curve);
    } catch (error) {
      box.checked = false;
      say(error.message, { bad: true });
    }
  };

  const show = (flight) => station.showFlight(flight, { operator: told.operator, onSaved: refresh });

  const makeRow = (flight) => {
    const line = make("tr");
    const first = make("td");
    const box = make("input");
    box.type = "checkbox";
    box.checked = ticked.has(flight.file);
    box.disabled = !flight.has_liftoff;
    box.setAttribute("aria-label", `Draw the curve of ${nameOf(flight)}`);
    box.addEventListener("change", () => tick(flight, box));
    first.append(box);
    line.append(first);
    for (const column of COLUMNS) {
      const cell = make("td", [column.number && "amount", column.seldom && "seldom", column.remarks && "remarks"].filter(Boolean).join(" "));
      cell.append(column.cell(flight));
      line.append(cell);
    }
    const last = make("td");
    const button = make("button", "", "Open");
    button.type = "button";
    button.setAttribute("aria-label", `Open ${nameOf(flight)}`);
    button.addEventListener("click", () => show(flight));
    last.append(button);
    line.append(last);
    return { flight, line, text: searched(flight), box };
  };

  const sorted = () => {
    const known = [...rows.values()].filter(({ flight }) => sortBy.value(flight) !== null);
    const unknown = [...rows.values()].filter(({ flight }) => sortBy.value(flight) === null);
    const sign = down ? -1 : 1;
    known.sort((a, b) => {
      const [x, y] = [sortBy.value(a.flight), sortBy.value(b.flight)];
      return x < y ? -sign : x > y ? sign : 0;
    });
    return [...known, ...unknown];
  };

  const arrange = () => {
    byId("rows").append(...sorted().map(({ line }) => line));
    const words = byId("search").value.toLocaleLowerCase().split(/\s+/).filter(Boolean);
    let count = 0;
    for (const row of rows.values()) {
      row.line.hidden = !words.every((word) => row.text.includes(word));
      if (!row.line.hidden) count += 1;
    }
    byId("count").textContent = words.length ? `${count} of ${rows.size} flights` : `${count} ${count === 1 ? "flight" : "flights"}`;
    for (const head of byId("head").children) {
      if (!head.dataset.column) continue;
      head.setAttribute("aria-sort", head.dataset.column !== sortBy.name ? "none" : down ? "descending" : "ascending");
    }
  };

  const makeHead = () => {
    const first = make("th");
    first.scope = "col";
    first.append(make("span", "", "Curve"));
    byId("head").append(first);
    for (const column of COLUMNS) {
      const head = make("th", [column.number && "amount", column.seldom && "seldom"].filter(Boolean).join(" "));
      head.scope = "col";
      head.dataset.column = column.name;
      const button = make("button", "", column.name);
      button.type = "button";
      button.addEventListener("click", () => {
        down = sortBy === column ? !down : Boolean(column.down);
        sortBy = column;
        arrange();
      });
      head.append(button);
      byId("head").append(head);
    }
    const last = make("th");
    last.scope = "col";
    last.append(make("span", "", "Flight"));
    byId("head").append(last);
  };

  const bestCell = (best, how) => {
    const cell = make("td", "amount");
    const row = best && rows.get(best.file);
    if (!row) {
      cell.textContent = "–";
      return cell;
    }
    const button = make("button", "", how(best.value));
    button.type = "button";
    button.setAttribute("aria-label", `${how(best.value)}: open ${nameOf(row.flight)}`);
    button.addEventListener("click", () => show(row.flight));
    cell.append(button);
    return cell;
  };

  const drawTotals = (id, title, name, groups, unknown) => {
    const table = byId(id);
    const head = make("tr");
    const columns = [name, "Flights", "All held the fall", "Impulse", "In the air", "Highest", "Fastest", "Longest", "Softest"];
    for (const words of columns) {
      const cell = make("th", head.childElementCount ? "amount" : "", words);
      cell.scope = "col";
      head.append(cell);
    }
    const lines = groups.map((group) => {
      const line = make("tr");
      const first = make("th", "", group.name === null ? unknown : group.name);
      first.scope = "row";
      line.append(
        first,
        make("td", "amount", String(group.flights)),
        make("td", "amount", String(group.confirmed)),
        make("td", "amount", group.total_impulse_ns ? `${station.units.whole(group.total_impulse_ns)} N s` : "–"),
        make("td", "amount", group.flight_time_s ? duration(group.flight_time_s) : "–"),
        bestCell(group.highest, station.units.height),
        bestCell(group.fastest, station.units.speed),
        bestCell(group.longest, duration),
        bestCell(group.softest, station.units.speed),
      );
      // On a narrow screen the head is away and each cell says its column itself.
      [...line.children].forEach((cell, index) => {
        cell.dataset.column = columns[index];
      });
      return line;
    });
    const [thead, tbody] = [make("thead"), make("tbody")];
    thead.append(head);
    tbody.append(...lines);
    table.replaceChildren(make("caption", "", title), thead, tbody);
  };

  const draw = () => {
    station.front.showProgress(told.progress);
    rows.clear();
    byId("rows").replaceChildren();
    for (const flight of told.flights) rows.set(flight.file, makeRow(flight));
    arrange();
    drawTotals("by-rocket", "By rocket", "Rocket", told.by_rocket, "not named");
    drawTotals("by-class", "By impulse class", "Class", told.by_impulse_class, "not known");
    byId("folder").textContent = told.folder;
    byId("not-read-box").hidden = !told.not_read.length;
    byId("not-read").replaceChildren(...told.not_read.map(({ file, reason }) => make("li", "", `${file}: ${reason}`)));
    if (told.index_problem) say(`The index cannot be kept beside the logs (${told.index_problem}): it is made anew each time.`, { bad: true });
  };

  let shown = "";
  const refresh = async () => {
    try {
      told = await get("/api/logbook");
      const { progress, ...rest } = told;
      station.front.showProgress(progress);
      const text = JSON.stringify(rest);
      if (text !== shown && !document.querySelector("dialog[open]")) {
        shown = text;
        draw();
      }
      if (progress) setTimeout(refresh, 1000);
    } catch (error) {
      say(error.message, { bad: true });
    }
  };

  station.chart.onForget((file) => {
    ticked.delete(file);
    const row = rows.get(file);
    if (row) row.box.checked = false;
    station.chart.remove(file);
  });
  byId("search").addEventListener("input", arrange);
  station.front.onUnits(() => {
    if (!told) return;
    draw();
    station.chart.draw();
  });
  makeHead();
  refresh();
})();
