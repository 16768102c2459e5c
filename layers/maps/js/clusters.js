// Many boxes as few rings: boxes that share a cell of a grid are one symbol with the share of each class.
import { fillOf, look } from "./look.js";

/** @typedef {import("./types").Symbol} Symbol */
/** @typedef {{ x: number, y: number, total: number, counts: Uint32Array, box: number, cell: number }} Ring box: its only one, else -1 */

// Symbols in sight beyond which they gather (our choice: at 60 boxes each is seen by itself).
export const MAX_SINGLE = 400;
const CELL_PX = 96;
// The world's width in the unit of its places, and what stands for none.
export const WORLD = 360e7, NO_PLACE = -2147483648;
const PARTS = 24;
// Three windows full of rings.
const MAX_PICTURES = 500;
const FULL_TURN = 2 * Math.PI;

/** The cell of each box at the whole zoom last seen; of more of them the memory is missed sooner than the time. */
export class Cells {
  /** @param {{ x: Int32Array, y: Int32Array }} world */
  constructor(world) {
    this.world = world;
    this.made = { zoom: NaN, of: new Int32Array(), count: 0 };
  }

  /** @param {number} zoom a whole one */
  at(zoom) {
    if (this.made.zoom === zoom) return this.made;
    const { x, y } = this.world, wide = (256 * 2 ** zoom) / CELL_PX / WORLD, of = new Int32Array(x.length).fill(-1);
    /** @type {Map<number, number>} */
    const numbers = new Map();
    for (let i = 0; i < x.length; i++) {
      if (x[i] === NO_PLACE) continue;
      const key = Math.floor(x[i] * wide) * 2 ** 26 + Math.floor(y[i] * wide);
      const number = numbers.get(key) ?? numbers.size;
      numbers.set(key, number);
      of[i] = number;
    }
    this.made = { zoom, of, count: numbers.size };
    return this.made;
  }

  /**
   * A ring for each cell with a box that is shown, at the mean of its boxes.
   * @param {number} zoom @param {Uint8Array} classes @param {Uint8Array} hidden @param {number} kinds number of classes @returns {Ring[]}
   */
  rings(zoom, classes, hidden, kinds) {
    const { of, count } = this.at(zoom), { x, y } = this.world;
    const rings = /** @type {(Ring | undefined)[]} */ (new Array(count));
    for (let i = 0; i < of.length; i++) {
      if (of[i] < 0 || hidden[i]) continue;
      const ring = rings[of[i]] ??= { x: 0, y: 0, total: 0, counts: new Uint32Array(kinds), box: i, cell: of[i] };
      ring.x += x[i];
      ring.y += y[i];
      ring.total++;
      ring.counts[classes[i]]++;
    }
    const found = /** @type {Ring[]} */ (rings.filter(Boolean));
    for (const ring of found) {
      ring.x /= ring.total;
      ring.y /= ring.total;
      if (ring.total > 1) ring.box = -1;
    }
    return found;
  }

  /** Numbers of the shown boxes of a ring. @param {number} zoom @param {Ring} ring @param {Uint8Array} hidden */
  boxesOf(zoom, ring, hidden) {
    const { of } = this.at(zoom), found = [];
    for (let i = 0; i < of.length; i++) if (of[i] === ring.cell && !hidden[i]) found.push(i);
    return found;
  }
}

export const ringRadius = (/** @type {number} */ total) => Math.min(30, 15 + 3.2 * Math.log10(total) * 1.5);

/** Pictures of rings, cached by total and shares: arcs cost more in the rasteriser than in the script. */
export class RingPictures {
  /** @param {Symbol[]} symbols @param {number} sharp */
  constructor(symbols, sharp) {
    this.symbols = symbols;
    this.sharp = sharp;
    this.own = look();
    /** @type {Map<string, HTMLCanvasElement>} */
    this.made = new Map();
    // Each canvas on which text was written keeps 26 kB of fonts: all is drawn on this one, and copied.
    this.easel = document.createElement("canvas");
  }

  /** @param {Ring} ring */
  of({ total, counts }) {
    const shares = Array.from(counts, (count) => count && Math.max(1, Math.round((count / total) * PARTS)));
    const key = total + ":" + shares.join();
    const canvas = this.made.get(key) || this._draw(total, shares);
    // The one longest unseen goes first.
    this.made.delete(key);
    this.made.set(key, canvas);
    if (this.made.size > MAX_PICTURES) this.made.delete(/** @type {string} */ (this.made.keys().next().value));
    return canvas;
  }

  /** @param {number} total @param {number[]} shares */
  _draw(total, shares) {
    const { ink, paper } = look(), radius = ringRadius(total), size = Math.ceil(radius * 2 + 4), canvas = document.createElement("canvas");
    canvas.width = canvas.height = this.easel.width = this.easel.height = size * this.sharp;
    const pen = /** @type {CanvasRenderingContext2D} */ (this.easel.getContext("2d"));
    pen.scale(this.sharp, this.sharp);
    pen.translate(size / 2, size / 2);
    const sum = shares.reduce((all, share) => all + share, 0);
    let from = -Math.PI / 2;
    const disc = (/** @type {number} */ reach, /** @type {string} */ colour) => { pen.beginPath(); pen.arc(0, 0, reach, 0, 7); pen.fillStyle = colour; pen.fill(); };
    disc(radius, ink);
    shares.forEach((share, at) => {
      if (!share) return;
      const to = from + (share / sum) * FULL_TURN;
      pen.beginPath();
      pen.moveTo(0, 0);
      pen.arc(0, 0, radius - 1.5, from, to);
      pen.closePath();
      pen.fillStyle = fillOf(this.symbols[at].colour);
      pen.fill();
      // A line of ink between shares, so that they hold in grey.
      if (share < sum) { pen.strokeStyle = ink; pen.lineWidth = 1.2; pen.stroke(); }
      from = to;
    });
    disc(radius - 6, ink);
    disc(radius - 7.2, paper);
    pen.fillStyle = ink;
    pen.font = "700 " + (total < 1000 ? 13 : 11) + "px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillText(total < 10_000 ? String(total) : Math.round(total / 1000) + "k", 0, 0.5);
    canvas.getContext("2d")?.drawImage(this.easel, 0, 0);
    return canvas;
  }
}
