// The trail's map on its own page: its buttons, and which part of it is in sight.
import { make, makeButton } from "./dom.js";
import { Ruler } from "./ruler.js";
import { TrailMap } from "./trail_map.js";
import { Position } from "./way.js";

const EDGE_PX = 14;
// Along the bottom of a phone's map; one lower than this has no room to spare for them.
const LOW_PX = 200;
// Of one box alone the map shows the surroundings to this.
const LEAST_M = 400;
// With fewer paths and zones than this there is little to see by; lines of the globe help.
const LITTLE_GROUND = 3;

export class MapView extends TrailMap {
  /** @param {L.Map} map @param {import("./types").Base} base @param {import("./types").Layers} layers @param {import("./types").Settings["tiles"]} tiles */
  constructor(map, base, layers, tiles) {
    super(map, layers, { boxes: base, units: base.header.units, tiles });
    this.units = base.header.units;
    /** @type {(text: string) => void} what to do with a sentence about the position */
    this.onNotice = () => {};
    // A card is at the right; on a phone the thumb reaches the bottom.
    this.phone = window.matchMedia("screen and (max-width: 899px)");
    this.moved = this.fitting = false;
    map.attributionControl.setPrefix(false);
    const boxes = this.layer.bounds();
    this.whole = boxes.isValid() ? boxes : this.ground;
    this.layer.graticule = !this.pictures && layers.paths.features.length + layers.zones.features.length < LITTLE_GROUND;
    this._addNorth();
    this.rings = make("div", { className: "rings" });
    L.DomEvent.disableClickPropagation(this.rings);
    map.getContainer().append(this.rings);
    this._addButtons();
    this.fit();
    new ResizeObserver(() => this.keepToRoom()).observe(map.getContainer());
    map.getContainer().setAttribute("aria-label", "Map of the boxes. The list view has the same in words.");
    map.getContainer().setAttribute("role", "application");
  }

  _addButtons() {
    const corner = () => (this.phone.matches ? "bottomright" : "topleft");
    /** @param {string} sign @param {string} words @param {() => void} onPress */
    const button = (sign, words, onPress) => makeButton(sign, { className: "on-map", title: words, "aria-label": words }, onPress);
    const fit = button("\u2922", "Show the whole trail", () => this.fit());
    const measure = button("\u2194\ufe0e", "Measure a distance", () => this.ruler.toggle());
    const here = button("\u25ce", "Show where I am", () => (position.following ? position.stop() : position.follow()));
    const position = new Position(() => this._showHere(position, here));
    this.ruler = new Ruler(this.map, this.units, () => measure.setAttribute("aria-pressed", String(this.ruler.active)));
    const own = new L.Control({ position: corner() }), zoom = L.control.zoom({ position: corner() });
    own.onAdd = () => {
      const group = make("div", { className: "buttons" }, fit, measure, here);
      L.DomEvent.disableClickPropagation(group);
      return group;
    };
    for (const control of [zoom, own]) control.addTo(this.map);
    this.phone.addEventListener("change", () => { for (const control of [zoom, own]) control.setPosition(corner()); });
  }

  /** @param {Position} position @param {HTMLElement} button */
  _showHere(position, button) {
    const { here, message } = position;
    button.setAttribute("aria-pressed", String(position.following));
    if (here) this.showPosition(here.lat, here.lon, here.accuracy_m); else this.hidePosition();
    this.onNotice(message);
  }

  _addNorth() {
    const north = new L.Control({ position: "topright" });
    north.onAdd = () => make("p", { className: "north" }, "\u2191 North");
    north.addTo(this.map);
  }

  /** Show the whole trail, the symbols at its edges whole too. */
  fit() {
    this.moved = false;
    this._fit(this.whole);
  }

  /** @param {L.LatLngBounds} bounds */
  _fit(bounds) {
    if (!bounds.isValid()) return;
    const size = this.map.getSize(), corner = this.map.getContainer().querySelector(".leaflet-bottom.leaflet-right");
    const buttons = this.phone.matches && size.y > LOW_PX && corner instanceof HTMLElement ? corner.offsetHeight : 0;
    const edge = Math.max(0.03, EDGE_PX / Math.max(1, Math.min(size.x, size.y)));
    this.fitting = true;
    this.map.fitBounds(bounds.pad(edge).extend(bounds.getCenter().toBounds(LEAST_M)), { maxZoom: 18, animate: false, paddingBottomRight: [0, buttons] });
    this.fitting = false;
  }

  /** Show some boxes; from now on what is in sight was chosen by hand. @param {number[]} boxes */
  fitBoxes(boxes) {
    const bounds = this.layer.boundsOf(boxes);
    if (!bounds.isValid()) return;
    this._fit(bounds);
    this.moved = true;
  }

  /**
   * A button over each ring, for the keyboard and for screen readers; a pointer presses the ring itself.
   * @param {(boxes: number[]) => void} onPress
   */
  nameRings(onPress) {
    const { layer, map } = this, { scale, left, top } = layer.frame();
    const words = (/** @type {import("./clusters.js").Ring} */ ring) => ring.total + " boxes: " + layer.symbols
      .map((/** @type {import("./types").Symbol} */ symbol, /** @type {number} */ at) => [ring.counts[at], symbol.word])
      .filter((/** @type {[number, string]} */ [count]) => count).map((/** @type {[number, string]} */ part) => part.join(" ")).join(", ");
    const held = this.rings.contains(document.activeElement);
    this.rings.replaceChildren(...layer.rings.map((/** @type {import("./clusters.js").Ring} */ ring) => {
      const button = makeButton("", { className: "ring", "aria-label": words(ring) + ". Show these." }, () => onPress(layer.boxesOf(ring)));
      button.style.left = ring.x * scale - left + "px";
      button.style.top = ring.y * scale - top + "px";
      return button;
    }));
    // What was pressed is gone: the keyboard stays on the map.
    if (held) map.getContainer().focus({ preventScroll: true });
  }

  /** The boxes of the ring under a point; empty = there is none. @param {L.Point} point @returns {number[]} */
  gathered(point) {
    const ring = this.layer.ringAt(point);
    return ring ? this.layer.boxesOf(ring) : [];
  }

  /** Keep to the room there is, which folding the panel, the list in its place or a turned phone changes. */
  keepToRoom() {
    const room = this.map.getContainer(), before = this.map.getSize();
    if (!room.clientWidth || !room.clientHeight) return;
    this.fitting = true;
    this.map.invalidateSize({ animate: false });
    this.fitting = false;
    if (!this.moved && !before.equals(this.map.getSize())) this.fit();
  }

  /** Show one place; from now on what is in sight was chosen by hand. @param {{ lat: number, lon: number, zoom: number }} at */
  go({ lat, lon, zoom }) {
    this.map.setView([lat, lon], zoom, { animate: false });
    this.moved = true;
  }

  /** Where the map was moved to by hand; null where it shows the whole trail. */
  get at() {
    const { lat, lng } = this.map.getCenter();
    return this.moved ? { lat, lon: lng, zoom: this.map.getZoom() } : null;
  }

  /** @param {() => void} call */
  onMoved(call) {
    this.map.on("moveend", () => { if (!this.fitting) this.moved = true; call(); });
  }

  /**
   * Numbers of the boxes that a press at a point may mean, nearest first: several where they are on one place.
   * @param {L.Point} point @returns {number[]}
   */
  meant(point) {
    const found = this.layer.near(point), first = found.length ? this.layer.place(found[0]) : null;
    return found.filter((/** @type {number} */ i) => i === found[0] || this.layer.place(i).distanceTo(first) < 1);
  }
}
