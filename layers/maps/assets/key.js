// The key to the ground: a sample and a word for each kind of zone, path and place that there is.
"use strict";

(function () {
  const WIDE = 44, HIGH = 22;
  const ZONES = { water: "water", building: "building", keep_out: "keep out" };
  const PLACES = [["start", "\u25b6", "place to start"], ["hazard", "\u26a0", "hazard"], ["landmark", "\u2022", "landmark"]];

  const zoneWord = (zone) => ZONES[zone.properties.kind] || (boxround.groundStyle.isWooded(zone) ? "trees and hedges" : "open ground");

  function pathWord(path) {
    const p = path.properties;
    if (p.level > 0) return "bridge";
    const closed = { closed: ", closed", team: ", for the team only" }[p.open_to] || "";
    return (p.kind === "road" || p.kind === "track" ? "road or track" : "path") + closed;
  }

  function picture(draw) {
    const sharp = 2, canvas = boxround.make("canvas", { width: WIDE * sharp, height: HIGH * sharp, className: "sample" });
    canvas.setAttribute("aria-hidden", "true");
    const pen = canvas.getContext("2d");
    pen.scale(sharp, sharp);
    draw(pen);
    return canvas;
  }

  function line(pen, style) {
    pen.beginPath();
    pen.moveTo(3, HIGH / 2);
    pen.lineTo(WIDE - 3, HIGH / 2);
    pen.strokeStyle = style.color;
    pen.lineWidth = style.weight;
    pen.lineCap = style.lineCap;
    pen.setLineDash(style.dashArray ? style.dashArray.split(" ").map(Number) : []);
    pen.stroke();
  }

  function area(pen, style) {
    pen.fillStyle = style.fillColor;
    pen.strokeStyle = style.color;
    pen.lineWidth = style.weight;
    pen.setLineDash(style.dashArray ? style.dashArray.split(" ").map(Number) : []);
    pen.fillRect(2, 2, WIDE - 4, HIGH - 4);
    pen.strokeRect(2, 2, WIDE - 4, HIGH - 4);
  }

  function glyph(pen, mark) {
    pen.font = "700 17px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillStyle = "#1d2a26";
    pen.fillText(mark, WIDE / 2, HIGH / 2);
  }

  // Fill a list with what the ground holds; says whether there was anything.
  boxround.fillKey = function (list, ground) {
    const styles = boxround.groundStyle, entries = new Map();
    for (const zone of ground.zones.features) {
      if (!entries.has(zoneWord(zone))) entries.set(zoneWord(zone), picture((pen) => area(pen, styles.zone(zone))));
    }
    for (const path of ground.paths.features) {
      if (entries.has(pathWord(path))) continue;
      entries.set(pathWord(path), picture((pen) => { line(pen, styles.casing(path)); line(pen, styles.path(path)); }));
    }
    for (const [kind, mark, word] of PLACES) {
      const there = ground.places.features.some((place) => (place.properties.kind || "landmark") === kind);
      if (there) entries.set(word, picture((pen) => glyph(pen, mark)));
    }
    list.replaceChildren(...Array.from(entries, ([word, sample]) => boxround.make("li", {}, sample, word)));
    return entries.size > 0;
  };
})();
