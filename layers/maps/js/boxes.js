// The layer that draws every box on one canvas, and finds the boxes that lie under a finger.
import { drawLabels, MOST_IDS } from "./labels.js";
import { drawSymbol } from "./symbols.js";

/** @typedef {import("./types").Boxes} Boxes */
/** @typedef {import("./types").Symbol} Symbol */

export const NO_PLACE = -2147483648;
const FINGER_PX = 22;
const PER_DEGREE = 1e7;

/**
 * Web Mercator as fractions of the world's width; 32-bit floats would be off by a metre.
 * @param {Boxes} boxes
 */
export function project(boxes) {
  const n = boxes.lon.length, x = new Float64Array(n).fill(NaN), y = new Float64Array(n).fill(NaN);
  for (let i = 0; i < n; i++) {
    if (boxes.lon[i] === NO_PLACE) continue;
    const sine = Math.sin((boxes.lat[i] / PER_DEGREE) * Math.PI / 180);
    x[i] = boxes.lon[i] / (360 * PER_DEGREE) + 0.5;
    y[i] = 0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI);
  }
  return { x, y };
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
    this.draw();
  },

  /** @param {L.Map} map */
  onRemove(map) {
    map.off("moveend zoomend resize", this.draw, this);
    this.canvas.remove();
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

  /** @param {number} radius @param {number} sharp */
  pictures(radius, sharp) {
    const size = Math.ceil(radius * 3.2);
    return this.symbols.map((/** @type {Symbol} */ symbol) => {
      const canvas = document.createElement("canvas");
      canvas.width = canvas.height = size * sharp;
      const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
      pen.scale(sharp, sharp);
      drawSymbol(pen, symbol, size / 2, size / 2, radius);
      return { canvas, size };
    });
  },

  // Where the world's left upper corner is, and how large the world is, in pixels of the map's window.
  frame() {
    const corner = this._map.getPixelBounds().min;
    return { scale: 256 * Math.pow(2, this._map.getZoom()), left: corner.x, top: corner.y };
  },

  draw() {
    const map = this._map, size = map.getSize(), sharp = window.devicePixelRatio || 1, canvas = this.canvas;
    if (this.base.lon.length && !this.symbols.length) return;
    const radius = Math.max(3.2, Math.min(10, (map.getZoom() - 9) * 1.25 + 1.5));
    L.DomUtil.setPosition(canvas, map.containerPointToLayerPoint([0, 0]));
    canvas.width = size.x * sharp;
    canvas.height = size.y * sharp;
    canvas.style.width = size.x + "px";
    canvas.style.height = size.y + "px";
    const pen = canvas.getContext("2d");
    pen.scale(sharp, sharp);
    if (this.under) this.under(pen);
    const { scale, left, top } = this.frame(), { x, y } = this.world, { classes, hidden } = this;
    const pictures = this.pictures(radius, sharp), edge = radius * 2;
    /** @type {[string, number, number][]} */
    const shown = [];
    for (let i = 0; i < x.length; i++) {
      if (hidden[i]) continue;
      const sx = x[i] * scale - left, sy = y[i] * scale - top;
      // Written so that a box without a place (NaN) fails the test.
      if (!(sx > -edge && sy > -edge && sx < size.x + edge && sy < size.y + edge)) continue;
      const drawn = pictures[classes[i]];
      pen.drawImage(drawn.canvas, sx - drawn.size / 2, sy - drawn.size / 2, drawn.size, drawn.size);
      if (shown.length <= MOST_IDS) shown.push([this.base.box[i], sx, sy]);
    }
    drawLabels(pen, map, shown, this.names, radius, this.marks);
    if (this.chosen >= 0) this.ring(pen, x[this.chosen] * scale - left, y[this.chosen] * scale - top, radius + 8);
  },

  /** @param {CanvasRenderingContext2D} pen @param {number} x @param {number} y @param {number} radius */
  ring(pen, x, y, radius) {
    for (const [width, colour] of /** @type {const} */ ([[6, "#fbf9f3"], [3, "#8a1c4a"]])) {
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
    const { scale, left, top } = this.frame(), found = [];
    for (let i = 0; i < this.world.x.length; i++) {
      if (this.hidden[i]) continue;
      const distance = Math.hypot(this.world.x[i] * scale - left - point.x, this.world.y[i] * scale - top - point.y);
      if (distance <= FINGER_PX) found.push([distance, i]);
    }
    return found.sort((a, b) => a[0] - b[0]).map(([, i]) => i);
  },
};
