// Words on the map: ids beside their boxes and names of the ground, each where there is room.
"use strict";

(function () {
  const IDS_AT_MOST = 400;
  const HALF_LINE = 8;
  const MARKS = { start: "\u25b6", hazard: "\u26a0", landmark: "\u2022" };
  const FONTS = { start: "700", hazard: "700", keep_out: "700", landmark: "600", zone: "italic 500" };
  const COLOURS = { start: "#00573f", hazard: "#7c2d00", keep_out: "#7c2d00", landmark: "#44382a", water: "#2c5a72" };
  // What a person must not miss is written first, before the ids of boxes.
  const FIRST = (name) => name.kind === "hazard" || name.kind === "keep_out";

  class Words {
    constructor(pen, size) {
      this.pen = pen;
      this.size = size;
      this.taken = [];
    }

    block(left, right, top, bottom) { this.taken.push([left, right, top, bottom]); }

    write(text, left, middle) {
      this.pen.strokeText(text, left, middle);
      this.pen.fillText(text, left, middle);
    }

    // Write at the first place that has room; `places` gives them for the text's width.
    place(text, places) {
      const width = this.pen.measureText(text).width;
      for (const [left, middle] of places(width)) {
        const right = left + width, top = middle - HALF_LINE, bottom = middle + HALF_LINE;
        if (left < 0 || right > this.size.x || top < 0 || bottom > this.size.y) continue;
        if (this.taken.some((box) => left < box[1] && right > box[0] && top < box[3] && bottom > box[2])) continue;
        this.block(left - 3, right + 3, top, bottom);
        this.write(text, left, middle);
        return;
      }
    }
  }

  const beside = (x, y, reach) => (width) => [
    [x + reach + 4, y], [x - reach - 4 - width, y],
    [x - width / 2, y + reach + HALF_LINE + 2], [x - width / 2, y - reach - HALF_LINE - 2],
  ];
  // Near the middle of a zone, and nowhere if the word would reach far beyond the zone.
  const within = (x, y, [wide, high]) => (width) => width > wide + 24 ? [] :
    [0, 20, -20, 40, -40].filter((down) => Math.abs(down) <= high / 2 + 4).map((down) => [x - width / 2, y + down]);

  function mark(words, name, point) {
    words.pen.fillStyle = COLOURS[name.kind];
    words.pen.font = "700 " + (name.kind === "landmark" ? 13 : 17) + "px system-ui, sans-serif";
    const half = words.pen.measureText(MARKS[name.kind]).width / 2;
    words.write(MARKS[name.kind], point.x - half, point.y);
    words.block(point.x - half, point.x + half, point.y - HALF_LINE, point.y + HALF_LINE);
  }

  function call(words, name, point, size) {
    words.pen.font = (FONTS[name.kind] || FONTS.zone) + " 13px system-ui, sans-serif";
    words.pen.fillStyle = COLOURS[name.kind] || "#3c5048";
    words.place(name.text, name.kind in MARKS ? beside(point.x, point.y, 8) : within(point.x, point.y, size));
  }

  // `shown` holds [id, x, y] of each box drawn.
  boxround.label = function (pen, map, shown, names, radius) {
    const pointOf = (name) => map.latLngToContainerPoint(name.at);
    const sizeOf = (name) => {
      if (!name.bounds) return [0, 0];
      const a = map.latLngToContainerPoint(name.bounds.getSouthWest()), b = map.latLngToContainerPoint(name.bounds.getNorthEast());
      return [b.x - a.x, a.y - b.y];
    };
    const words = new Words(pen, map.getSize()), few = shown.length <= IDS_AT_MOST;
    pen.textBaseline = "middle";
    pen.lineWidth = 3.5;
    pen.lineJoin = "round";
    pen.strokeStyle = "rgba(251, 249, 243, 0.92)";
    if (few) for (const [, x, y] of shown) words.block(x - radius, x + radius, y - radius, y + radius);
    for (const name of names) if (name.kind in MARKS && (few || FIRST(name))) mark(words, name, pointOf(name));
    for (const name of names) if (FIRST(name)) call(words, name, pointOf(name), sizeOf(name));
    if (!few) return;
    pen.fillStyle = "#1d2a26";
    pen.font = "600 13px system-ui, sans-serif";
    for (const [id, x, y] of shown) words.place(id, beside(x, y, radius));
    for (const name of names) if (!FIRST(name)) call(words, name, pointOf(name), sizeOf(name));
  };
  boxround.IDS_AT_MOST = IDS_AT_MOST;
})();
