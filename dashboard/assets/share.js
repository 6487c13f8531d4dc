/* The address for spectators, with its QR code. */
window.station = window.station || {};

(() => {
  "use strict";
  const QUIET = 4; // light modules all round, as the code's standard asks

  const SVG = "http://www.w3.org/2000/svg";

  const picture = (rows) => {
    const size = rows.length + 2 * QUIET;
    const svg = document.createElementNS(SVG, "svg");
    svg.setAttribute("viewBox", `0 0 ${size} ${size}`);
    svg.setAttribute("class", "qr");
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", "QR code of the address");
    const path = document.createElementNS(SVG, "path");
    let d = "";
    rows.forEach((row, y) => {
      [...row].forEach((module, x) => {
        if (module === "1") d += `M${x + QUIET} ${y + QUIET}h1v1h-1z`;
      });
    });
    path.setAttribute("d", d);
    svg.append(path);
    return svg;
  };

  station.share = {
    async open() {
      const { make } = station.panels;
      let told;
      try {
        told = await (await fetch("/api/share")).json();
      } catch {
        station.controls.note("The station does not answer.");
        return;
      }
      if (!told.addresses.length) {
        const how = "Only this laptop can see the page. Start the station with --share to show it to others at the field.";
        station.controls.dialog("Share", "Share", [make("p", "", how)]);
        return;
      }
      const list = make("ul", "addresses");
      list.append(...told.addresses.map((address) => make("li", "", address)));
      const hint = make("p", "", "On the same Wi-Fi, scan this or type the address. Spectators can look, and change nothing.");
      station.controls.dialog("Share", "Share", [hint, picture(told.qr), list]);
    },
  };
})();
