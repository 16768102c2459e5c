// Draws the symbols that symbols.py names: a fill, and a dark rim that holds in sun and in grey.
"use strict";

(function () {
  const RIM = "#1d2a26";

  function outline(pen, points) {
    pen.beginPath();
    points.forEach(([x, y], at) => (at ? pen.lineTo(x, y) : pen.moveTo(x, y)));
    pen.closePath();
  }

  function around(count, radius, turn) {
    return Array.from({ length: count }, (_, at) => {
      const angle = turn + (at * 2 * Math.PI) / count;
      const reach = typeof radius === "function" ? radius(at) : radius;
      return [reach * Math.sin(angle), -reach * Math.cos(angle)];
    });
  }

  const SHAPES = {
    "disc": (pen, r) => { pen.beginPath(); pen.arc(0, 0, r, 0, 7); },
    "small ring": (pen, r) => { pen.beginPath(); pen.arc(0, 0, r * 0.62, 0, 7); },
    "square": (pen, r) => outline(pen, around(4, r * 1.18, Math.PI / 4)),
    "diamond": (pen, r) => outline(pen, around(4, r * 1.2, 0)),
    "triangle": (pen, r) => outline(pen, around(3, r * 1.25, 0).map(([x, y]) => [x, y + r * 0.2])),
    "hexagon": (pen, r) => outline(pen, around(6, r * 1.08, 0)),
    "star": (pen, r) => outline(pen, around(10, (at) => (at % 2 ? r * 0.55 : r * 1.35), 0)),
    "tall bar": (pen, r) => outline(pen, [[-r * 0.5, -r * 1.2], [r * 0.5, -r * 1.2], [r * 0.5, r * 1.2], [-r * 0.5, r * 1.2]]),
    "wide bar": (pen, r) => outline(pen, [[-r * 1.2, -r * 0.5], [r * 1.2, -r * 0.5], [r * 1.2, r * 0.5], [-r * 1.2, r * 0.5]]),
    "drop": (pen, r) => {
      pen.beginPath(); pen.arc(0, r * 0.25, r * 0.8, -0.5, Math.PI + 0.5); pen.lineTo(0, -r * 1.3); pen.closePath();
    },
    "cross": (pen, r) => {
      const a = r * 0.36, b = r * 1.15;
      pen.rotate(Math.PI / 4);
      outline(pen, [[-a, -b], [a, -b], [a, -a], [b, -a], [b, a], [a, a], [a, b], [-a, b], [-a, a], [-b, a], [-b, -a], [-a, -a]]);
    },
  };

  boxround.drawSymbol = function (pen, symbol, x, y, radius) {
    pen.save();
    pen.translate(x, y);
    pen.lineJoin = "round";
    pen.strokeStyle = RIM;
    pen.fillStyle = symbol.colour;
    pen.lineWidth = Math.max(1.25, radius * 0.24);
    if (symbol.shape === "half disc") {
      pen.beginPath(); pen.arc(0, 0, radius, 0, 7); pen.fillStyle = "#ffffff"; pen.fill(); pen.stroke();
      pen.beginPath(); pen.arc(0, 0, radius, 0, Math.PI); pen.closePath(); pen.fillStyle = symbol.colour; pen.fill();
    } else {
      SHAPES[symbol.shape](pen, radius);
      pen.fill();
    }
    pen.stroke();
    pen.restore();
  };

  // A small picture of a symbol, to stand beside its word; says nothing to a screen reader.
  boxround.symbolPicture = function (symbol) {
    const size = 26, sharp = 2;
    const canvas = boxround.make("canvas", { width: size * sharp, height: size * sharp, className: "symbol" });
    canvas.setAttribute("aria-hidden", "true");
    const pen = canvas.getContext("2d");
    pen.scale(sharp, sharp);
    boxround.drawSymbol(pen, symbol, size / 2, size / 2, 8);
    return canvas;
  };
})();
