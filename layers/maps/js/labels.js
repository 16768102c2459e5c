// Words on the map: ids beside their boxes and names of the ground, each where there is room.
import { look } from "./look.js";

/** @typedef {import("./types").Name} Name */
/** @typedef {[number, number]} Place left edge and middle of a line of text, pixels */

const HALF_LINE = 8;
// A star reaches so many radii from its middle, the most of all shapes.
const SHAPE_REACH = 1.35;
/** @type {Record<string, string>} */
export const MARKS = { start: "\u25b6", hazard: "\u26a0", landmark: "\u2022" };
/** @type {Record<string, string>} */
const FONTS = { start: "700", hazard: "700", keep_out: "700", landmark: "600", zone: "italic 500" };
// What a person must not miss is written first, before the ids of boxes.
const isFirst = (/** @type {Name} */ name) => name.kind === "hazard" || name.kind === "keep_out";

/** @param {string} kind */
const colourOf = (kind) => /** @type {Record<string, string>} */ (look().words)[kind] || look().words.zone;

/** Where text may be written: within a frame, and over nothing that is there. */
export class Room {
  /** @param {number} wide @param {number} high */
  constructor(wide, high) {
    this.wide = wide;
    this.high = high;
    /** @type {number[][]} */
    this.taken = [];
  }

  /** @param {number} left @param {number} right @param {number} top @param {number} bottom */
  block(left, right, top, bottom) { this.taken.push([left, right, top, bottom]); }

  /** The first of some places with room for a text, which it then takes. @param {number} width @param {Place[]} places */
  take(width, places) {
    return places.find(([left, middle]) => {
      const right = left + width, top = middle - HALF_LINE, bottom = middle + HALF_LINE;
      if (left < 0 || right > this.wide || top < 0 || bottom > this.high) return false;
      if (this.taken.some((box) => left < box[1] && right > box[0] && top < box[3] && bottom > box[2])) return false;
      this.block(left - 3, right + 3, top, bottom);
      return true;
    });
  }
}

/**
 * Places beside a point: right, left, below, above.
 * @param {number} x @param {number} y @param {number} reach @param {number} width @returns {Place[]}
 */
export const beside = (x, y, reach, width) => [
  [x + reach + 4, y], [x - reach - 4 - width, y],
  [x - width / 2, y + reach + HALF_LINE + 2], [x - width / 2, y - reach - HALF_LINE - 2],
];

/**
 * Places near the middle of an area; none if the word would reach far beyond it.
 * @param {number} x @param {number} y @param {[number, number]} size @param {number} width @returns {Place[]}
 */
export const within = (x, y, [wide, high], width) => width > wide + 24 ? [] :
  [0, 20, -20, 40, -40].filter((down) => Math.abs(down) <= high / 2 + 4).map((down) => [x - width / 2, y + down]);

/**
 * @param {CanvasRenderingContext2D} pen
 * @param {L.Map} map
 * @param {[string, number, number][]} shown id, x and y of each box drawn by itself
 * @param {Name[]} names
 * @param {number} radius of a box's symbol, pixels
 * @param {[L.LatLng, number][]} marks other marks that no word may cover, and their radius
 * @param {[number, number, number][]} blocks x, y and radius of rings, over which nothing is written
 * @param {boolean} over pictures of the ground: with a wider edge
 */
export function drawLabels(pen, map, shown, names, radius, marks, blocks, over) {
  const size = map.getSize(), room = new Room(size.x, size.y), few = !blocks.length, reach = radius * SHAPE_REACH;

  /** @param {string} text @param {(width: number) => Place[]} placesFor */
  function write(text, placesFor) {
    const width = pen.measureText(text).width, place = room.take(width, placesFor(width));
    if (!place) return;
    pen.strokeText(text, ...place);
    pen.fillText(text, ...place);
  }

  /** @param {Name} name */
  function drawMark(name) {
    const { x, y } = map.latLngToContainerPoint(name.at), mark = MARKS[name.kind];
    pen.fillStyle = colourOf(name.kind);
    pen.font = "700 " + (name.kind === "landmark" ? 13 : 17) + "px system-ui, sans-serif";
    const half = pen.measureText(mark).width / 2;
    pen.strokeText(mark, x - half, y);
    pen.fillText(mark, x - half, y);
    room.block(x - half, x + half, y - HALF_LINE, y + HALF_LINE);
  }

  /** @param {Name} name */
  function writeName(name) {
    const { x, y } = map.latLngToContainerPoint(name.at);
    pen.font = (FONTS[name.kind] || FONTS.zone) + " 13px system-ui, sans-serif";
    pen.fillStyle = colourOf(name.kind);
    write(name.text, (width) => name.bounds ? within(x, y, sizeOf(map, name.bounds), width) : beside(x, y, 8, width));
  }

  pen.textBaseline = "middle";
  pen.lineWidth = over ? 5 : 3.5;
  pen.lineJoin = "round";
  pen.strokeStyle = look().halo;
  const block = (/** @type {number} */ x, /** @type {number} */ y, /** @type {number} */ half) => room.block(x - half, x + half, y - half, y + half);
  // Nor over buttons, the scale and the mark of north.
  const frame = map.getContainer().getBoundingClientRect();
  for (const control of map.getContainer().querySelectorAll(".leaflet-control")) {
    const { left, right, top, bottom } = control.getBoundingClientRect();
    room.block(left - frame.left, right - frame.left, top - frame.top, bottom - frame.top);
  }
  for (const [place, half] of marks) {
    const { x, y } = map.latLngToContainerPoint(place);
    block(x, y, half);
  }
  for (const ring of blocks) block(...ring);
  for (const [, x, y] of shown) block(x, y, reach);
  for (const name of names) if (name.kind in MARKS && (few || isFirst(name))) drawMark(name);
  for (const name of names) if (isFirst(name)) writeName(name);
  if (!few) return;
  pen.fillStyle = look().ink;
  pen.font = "600 13px system-ui, sans-serif";
  for (const [id, x, y] of shown) write(id, (width) => beside(x, y, reach, width));
  for (const name of names) if (!isFirst(name)) writeName(name);
}

/** @param {L.Map} map @param {L.LatLngBounds} bounds @returns {[number, number]} */
function sizeOf(map, bounds) {
  const low = map.latLngToContainerPoint(bounds.getSouthWest()), high = map.latLngToContainerPoint(bounds.getNorthEast());
  return [high.x - low.x, low.y - high.y];
}
