// Draws the symbols that symbols.py names: a fill, and a rim of ink that holds in sun and in grey.
import { picture } from "./dom.js";
import { fillOf, look } from "./look.js";

/** @typedef {CanvasRenderingContext2D} Pen */
/** @typedef {[number, number]} Point */

const SIZE_PX = 26;

/** @param {Pen} pen @param {Point[]} points */
function outline(pen, points) {
  pen.beginPath();
  points.forEach(([x, y], at) => (at ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.closePath();
}

/**
 * Corners on a circle, or between two.
 * @param {number} count @param {(at: number) => number} reach @param {number} turn @returns {Point[]}
 */
export function corners(count, reach, turn = 0) {
  return Array.from({ length: count }, (_, at) => {
    const angle = turn + (at * 2 * Math.PI) / count;
    return [reach(at) * Math.sin(angle), -reach(at) * Math.cos(angle)];
  });
}

/** @param {Pen} pen @param {number} half_wide @param {number} half_high */
const bar = (pen, half_wide, half_high) => outline(pen, [
  [-half_wide, -half_high], [half_wide, -half_high], [half_wide, half_high], [-half_wide, half_high]]);

/** @type {Record<string, (pen: Pen, r: number) => void>} */
const SHAPES = {
  "disc": (pen, r) => { pen.beginPath(); pen.arc(0, 0, r, 0, 7); },
  "small ring": (pen, r) => { pen.beginPath(); pen.arc(0, 0, r * 0.62, 0, 7); },
  "square": (pen, r) => outline(pen, corners(4, () => r * 1.18, Math.PI / 4)),
  "diamond": (pen, r) => outline(pen, corners(4, () => r * 1.2)),
  "triangle": (pen, r) => outline(pen, corners(3, () => r * 1.25).map(([x, y]) => [x, y + r * 0.2])),
  "hexagon": (pen, r) => outline(pen, corners(6, () => r * 1.08)),
  "star": (pen, r) => outline(pen, corners(10, (at) => (at % 2 ? r * 0.55 : r * 1.35))),
  "tall bar": (pen, r) => bar(pen, r * 0.5, r * 1.2),
  "wide bar": (pen, r) => bar(pen, r * 1.2, r * 0.5),
  "drop": (pen, r) => {
    pen.beginPath(); pen.arc(0, r * 0.25, r * 0.8, -0.5, Math.PI + 0.5); pen.lineTo(0, -r * 1.3); pen.closePath();
  },
  "cross": (pen, r) => {
    const a = r * 0.36, b = r * 1.15;
    pen.rotate(Math.PI / 4);
    outline(pen, [[-a, -b], [a, -b], [a, -a], [b, -a], [b, a], [a, a], [a, b], [-a, b], [-a, a], [-b, a], [-b, -a], [-a, -a]]);
  },
};

export const SHAPE_NAMES = ["half disc", ...Object.keys(SHAPES)];

/**
 * @param {Pen} pen @param {import("./types").Symbol} symbol @param {number} x @param {number} y @param {number} radius
 * @param {boolean} edged with an edge around the rim, to stand out from pictures of the ground
 */
export function drawSymbol(pen, symbol, x, y, radius, edged = false) {
  const half = symbol.shape === "half disc", { ink, paper } = look(), rim = Math.max(1.25, radius * 0.24);
  pen.save();
  pen.translate(x, y);
  pen.lineJoin = "round";
  SHAPES[half ? "disc" : symbol.shape](pen, radius);
  pen.fillStyle = fillOf(half ? "#FFFFFF" : symbol.colour);
  for (const [colour, width] of /** @type {[string, number][]} */ ([...(edged ? [[paper, rim + 4]] : []), [ink, rim]])) {
    pen.strokeStyle = colour;
    pen.lineWidth = width;
    if (colour === ink) pen.fill();
    pen.stroke();
  }
  if (half) {
    pen.beginPath(); pen.arc(0, 0, radius, 0, Math.PI); pen.closePath();
    pen.fillStyle = fillOf(symbol.colour);
    pen.fill();
    pen.stroke();
  }
  pen.restore();
}

/** A small picture of a symbol. @param {import("./types").Symbol} symbol */
export const symbolPicture = (symbol) => picture(SIZE_PX, SIZE_PX, "symbol",
  (pen) => drawSymbol(pen, symbol, SIZE_PX / 2, SIZE_PX / 2, 8));
