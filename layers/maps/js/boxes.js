// The layer that draws every box on one canvas, and finds the boxes that lie under a finger.
import { Cells, MAX_SINGLE, NO_PLACE, RingPictures, ringRadius, WORLD } from "./clusters.js";
import { drawGraticule } from "./graticule.js";
import { drawLabels } from "./labels.js";
import { look } from "./look.js";
import { spread } from "./spread.js";
import { drawSymbol } from "./symbols.js";

/** @typedef {import("./types").Boxes} Boxes */
/** @typedef {import("./types").Symbol} Symbol */

const FINGER_PX = 22;
// A box drawn farther than this from its place has a line to it.
const TIED_PX = 4;
const PER_DEGREE = 1e7;

/**
 * Web Mercator east and south of the world's middle, in 1e-7 degrees of the equator as longitudes are
 * (1 cm; 32-bit floats would be off by a metre).
 * @param {Boxes} boxes
 */
export function project({ lon, lat }) {
  const y = lat.map((own, i) => {
    if (lon[i] === NO_PLACE) return NO_PLACE;
    const sine = Math.sin((own / PER_DEGREE) * Math.PI / 180);
    return Math.round(-Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI) * WORLD);
  });
  return { x: lon, y };
}

/** The columns of boxes from their ids and places. @param {{ box: string, lat: number, lon: number }[]} boxes @returns {Boxes} */
export const columnsOf = (boxes) => ({
  lon: Int32Array.from(boxes, ({ lon }) => Math.round(lon * PER_DEGREE)),
  lat: Int32Array.from(boxes, ({ lat }) => Math.round(lat * PER_DEGREE)),
  box: boxes.map(({ box }) => box),
});

/**
 * @param {Boxes} base
 * @param {import("./types").Name[]} names of the ground, to be written between the boxes' ids
 */
export const makeBoxLayer = (base, names) => new (/** @type {any} */ (L.Layer.extend(boxLayer)))(base, names);

// Leaflet's own way to make a class; its parts see each other as `this`.
/** @type {any} */
const boxLayer = {
  /** @param {Boxes} base @param {import("./types").Name[]} names */
  initialize(base, names) {
    this.base = base;
    this.names = names;
    this.marks = [];
    this.world = project(base);
    this.cells = new Cells(this.world);
    /** @type {import("./clusters.js").Ring[]} */
    this.rings = [];
    /** @type {Map<number, [number, number]>} where boxes are drawn, by their numbers */
    this.drawn = new Map();
    this.graticule = false;
    this.over = false; // over pictures of the ground
    this.symbols = [];
    this.classes = new Uint8Array(base.lon.length);
    this.hidden = new Uint8Array(base.lon.length);
    this.chosen = -1;
    this.under = null;
  },

  /** @param {L.Map} map */
  onAdd(map) {
    this.canvas = L.DomUtil.create("canvas", "leaflet-zoom-hide");
    this.canvas.style.pointerEvents = "none";
    this.getPane().append(this.canvas);
    map.on("moveend zoomend resize", this.draw, this);
    map.on("move", this.follow, this);
    this.draw();
  },

  /** @param {L.Map} map */
  onRemove(map) {
    map.off("moveend zoomend resize", this.draw, this);
    map.off("move", this.follow, this);
    this.canvas.remove();
  },

  // While the map is moved, draw once a frame.
  follow() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      if (this._map) this.draw();
    });
  },

  bounds() {
    const corners = L.latLngBounds([]);
    for (let i = 0; i < this.base.lon.length; i++) if (this.place(i)) corners.extend(this.place(i));
    return corners;
  },

  /** @param {number} i */
  place(i) {
    const { lon, lat } = this.base;
    return lon[i] === NO_PLACE ? null : L.latLng(lat[i] / PER_DEGREE, lon[i] / PER_DEGREE);
  },

  /** @param {Uint8Array} classes @param {Symbol[]} symbols @param {Uint8Array} hidden */
  paint(classes, symbols, hidden) {
    Object.assign(this, { classes, symbols, hidden });
    if (this._map) this.draw();
  },

  /** @param {number} i */
  choose(i) {
    this.chosen = i;
    if (this._map) this.draw();
  },

  // Pictures of the symbols, cached while neither they nor their size change.
  /** @param {number} radius @param {number} sharp */
  pictures(radius, sharp) {
    const known = this.made, { symbols } = this, own = look();
    if (known && known.symbols === symbols && known.radius === radius && known.sharp === sharp && known.own === own && known.over === this.over) return known.pictures;
    const size = Math.ceil(radius * 3.2) + 6;
    const pictures = symbols.map((/** @type {Symbol} */ symbol) => {
      const canvas = document.createElement("canvas");
      canvas.width = canvas.height = size * sharp;
      const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
      pen.scale(sharp, sharp);
      drawSymbol(pen, symbol, size / 2, size / 2, radius, this.over);
      return { canvas, size };
    });
    this.made = { symbols, radius, sharp, own, over: this.over, pictures };
    return pictures;
  },

  // Pixels to a unit of the world, and how far the window's corner is from the world's middle.
  frame() {
    const corner = this._map.getPixelBounds().min, wide = 256 * Math.pow(2, this._map.getZoom());
    return { scale: wide / WORLD, left: corner.x - wide / 2, top: corner.y - wide / 2 };
  },

  draw() {
    const map = this._map, size = map.getSize(), sharp = window.devicePixelRatio || 1, canvas = this.canvas;
    if (this.base.lon.length && !this.symbols.length) return;
    const radius = Math.max(3.2, Math.min(10, (map.getZoom() - 9) * 1.25 + 1.5));
    L.DomUtil.setPosition(canvas, map.containerPointToLayerPoint([0, 0]));
    if (canvas.width !== size.x * sharp || canvas.height !== size.y * sharp) {
      canvas.width = size.x * sharp;
      canvas.height = size.y * sharp;
      canvas.style.width = size.x + "px";
      canvas.style.height = size.y + "px";
    }
    const pen = canvas.getContext("2d");
    pen.setTransform(sharp, 0, 0, sharp, 0, 0);
    pen.clearRect(0, 0, size.x, size.y);
    if (this.under) this.under(pen);
    if (this.graticule) drawGraticule(pen, map);
    const { scale, left, top } = this.frame(), { x, y } = this.world;
    this.drawn = new Map();
    this.rings = this.ringsInSight();
    const single = this.rings.length ? this.rings.map((/** @type {import("./clusters.js").Ring} */ ring) => ring.box).filter((/** @type {number} */ box) => box >= 0) : this.inSight(radius * 2);
    /** @type {[number, number][]} */
    const places = single.map((/** @type {number} */ i) => [x[i] * scale - left, y[i] * scale - top]);
    if (!this.rings.length) spread(places, radius * 1.5);
    single.forEach((/** @type {number} */ i, /** @type {number} */ at) => this.drawn.set(i, places[at]));
    this.drawBoxes(pen, radius, sharp);
    const blocks = this.drawRings(pen, sharp);
    const ids = /** @type {[string, number, number][]} */ (this.rings.length ? [] : single.map((/** @type {number} */ i, /** @type {number} */ at) => [this.base.box.at(i), ...places[at]]));
    drawLabels(pen, map, ids, this.names, radius, this.marks, blocks, this.over);
    if (this.chosen >= 0 && x[this.chosen] !== NO_PLACE) {
      const [cx, cy] = this.drawn.get(this.chosen) || [x[this.chosen] * scale - left, y[this.chosen] * scale - top];
      this.ring(pen, cx, cy, radius + 8);
    }
  },

  // Rings in the map's window, if there are too many boxes in it to draw each by itself; else none.
  ringsInSight() {
    if (this.base.lon.length <= MAX_SINGLE) return [];
    const zoom = Math.round(this._map.getZoom()), { classes, hidden } = this;
    // While the map is moved nothing is counted anew.
    if (this.counted?.zoom !== zoom || this.counted.classes !== classes || this.counted.hidden !== hidden) {
      this.counted = { zoom, classes, hidden, rings: this.cells.rings(zoom, classes, hidden, this.symbols.length) };
    }
    const { scale, left, top } = this.frame(), size = this._map.getSize();
    const rings = this.counted.rings.filter((/** @type {import("./clusters.js").Ring} */ ring) => {
      const sx = ring.x * scale - left, sy = ring.y * scale - top, reach = ringRadius(ring.total);
      return sx > -reach && sy > -reach && sx < size.x + reach && sy < size.y + reach;
    });
    const boxes = rings.reduce((/** @type {number} */ all, /** @type {import("./clusters.js").Ring} */ ring) => all + ring.total, 0);
    return boxes > MAX_SINGLE ? rings : [];
  },

  // Numbers of the shown boxes in the map's window.
  /** @param {number} edge pixels beyond it */
  inSight(edge) {
    const { scale, left, top } = this.frame(), size = this._map.getSize(), { x, y } = this.world, found = [];
    for (let i = 0; i < x.length; i++) {
      if (this.hidden[i] || x[i] === NO_PLACE) continue;
      const sx = x[i] * scale - left, sy = y[i] * scale - top;
      if (sx > -edge && sy > -edge && sx < size.x + edge && sy < size.y + edge) found.push(i);
    }
    return found;
  },

  /** @param {CanvasRenderingContext2D} pen @param {number} radius @param {number} sharp */
  drawBoxes(pen, radius, sharp) {
    const { scale, left, top } = this.frame(), { x, y } = this.world, pictures = this.pictures(radius, sharp);
    pen.strokeStyle = look().soft;
    pen.lineWidth = 1.5;
    for (const [i, [sx, sy]] of this.drawn) {
      const tx = x[i] * scale - left, ty = y[i] * scale - top;
      if (Math.hypot(tx - sx, ty - sy) <= TIED_PX) continue;
      pen.beginPath(); pen.moveTo(tx, ty); pen.lineTo(sx, sy); pen.stroke();
    }
    for (const [i, [sx, sy]] of this.drawn) {
      const picture = pictures[this.classes[i]];
      pen.drawImage(picture.canvas, sx - picture.size / 2, sy - picture.size / 2, picture.size, picture.size);
    }
  },

  // Draw the rings in sight; gives where they are and how far they reach.
  /** @param {CanvasRenderingContext2D} pen @param {number} sharp */
  drawRings(pen, sharp) {
    const known = this.ringPictures;
    if (known?.symbols !== this.symbols || known.sharp !== sharp || known.own !== look()) this.ringPictures = new RingPictures(this.symbols, sharp);
    const { scale, left, top } = this.frame();
    /** @type {[number, number, number][]} */
    const blocks = [];
    this.rings = this.rings.filter((/** @type {import("./clusters.js").Ring} */ ring) => ring.box < 0);
    for (const ring of this.rings) {
      const sx = ring.x * scale - left, sy = ring.y * scale - top;
      const canvas = this.ringPictures.of(ring), wide = canvas.width / sharp;
      pen.drawImage(canvas, sx - wide / 2, sy - wide / 2, wide, wide);
      blocks.push([sx, sy, ringRadius(ring.total)]);
    }
    return blocks;
  },

  // The ring under a point of the map's window, with the bounds of its boxes; null = none.
  /** @param {L.Point} point */
  ringAt(point) {
    const { scale, left, top } = this.frame();
    const found = this.rings.find((/** @type {import("./clusters.js").Ring} */ ring) =>
      Math.hypot(ring.x * scale - left - point.x, ring.y * scale - top - point.y) <= Math.max(FINGER_PX, ringRadius(ring.total)));
    return found || null;
  },

  /** Numbers of the boxes of a ring. @param {import("./clusters.js").Ring} ring @returns {number[]} */
  boxesOf(ring) { return this.cells.boxesOf(Math.round(this._map.getZoom()), ring, this.hidden); },

  /** @param {number[]} boxes */
  boundsOf(boxes) { return L.latLngBounds(boxes.map((i) => this.place(i)).filter(Boolean)); },

  /** @param {CanvasRenderingContext2D} pen @param {number} x @param {number} y @param {number} radius */
  ring(pen, x, y, radius) {
    for (const [width, colour] of /** @type {const} */ ([[6, look().paper], [3, look().chosen]])) {
      pen.beginPath();
      pen.arc(x, y, radius, 0, 7);
      pen.lineWidth = width;
      pen.strokeStyle = colour;
      pen.stroke();
    }
  },

  // Numbers of the boxes under a point of the map's window, nearest first.
  /** @param {L.Point} point */
  near(point) {
    const found = [];
    for (const [i, [x, y]] of this.drawn) {
      const distance = Math.hypot(x - point.x, y - point.y);
      if (distance <= FINGER_PX) found.push([distance, i]);
    }
    return found.sort((a, b) => a[0] - b[0]).map(([, i]) => i);
  },
};
