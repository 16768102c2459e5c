// The one drawing of a trail, on every page with a map: paths, places, zones and boxes, and what a page marks on them.
import { columnsOf, makeBoxLayer } from "./boxes.js";
import { make } from "./dom.js";
import { addGround } from "./ground.js";
import { look, readLook } from "./look.js";

/** @typedef {import("./types").Boxes} Boxes */
/** @typedef {import("./types").Layers} Layers */
/** @typedef {import("./types").Pictures} Pictures */

export const PADDING = { padding: /** @type {[number, number]} */ ([28, 28]), animate: false };

// Pictures are drawn smaller to so many zooms before their first: each has four times as many in sight.
const FARTHER = 3;

/**
 * A Leaflet map that takes the wheel only while it has the focus, so that a page scrolls past it.
 * @param {HTMLElement} place
 */
export function openMap(place) {
  const map = L.map(place, { zoomSnap: 0.5, scrollWheelZoom: false, attributionControl: false });
  map.on("focus", () => map.scrollWheelZoom.enable());
  map.on("blur", () => map.scrollWheelZoom.disable());
  return map;
}

/** @param {Pictures} own */
function picturesOf({ url, attribution, licence, min_zoom, max_zoom, bounds }) {
  const words = make("span", {}, [attribution, licence].filter(Boolean).join(", ")).innerHTML;
  const limits = bounds && { minZoom: (min_zoom ?? 0) - FARTHER, minNativeZoom: min_zoom, maxNativeZoom: max_zoom, bounds: L.latLngBounds([bounds[1], bounds[0]], [bounds[3], bounds[2]]) };
  return L.tileLayer(url, { attribution: words, maxZoom: 22, ...limits });
}

export class TrailMap {
  /**
   * @param {L.Map} map that has a view already
   * @param {Layers} layers
   * @param {{ boxes?: Boxes, units?: string, tiles?: Pictures | null }} options units: "us" or others, none = both scales;
   *   tiles: pictures of another server, where the trail has no own
   */
  constructor(map, layers, { boxes = columnsOf([]), units = "", tiles = null }) {
    this.map = map;
    readLook();
    L.control.scale({ position: "bottomleft", maxWidth: 140, imperial: units !== "metric", metric: units !== "us" }).addTo(map);
    const { bounds, names, restyle } = addGround(map, layers);
    this.ground = bounds;
    this.restyle = restyle;
    this.layer = makeBoxLayer(boxes, names).addTo(map);
    const own = layers.background || tiles;
    /** @type {L.TileLayer | undefined} */
    this.pictures = own ? picturesOf(own) : undefined;
    this.showPictures(true);
    for (const media of ["(prefers-color-scheme: dark)", "print"]) window.matchMedia(media).addEventListener("change", () => this.relook());
  }

  /** Show pictures of the ground beneath everything, where there are any. @param {boolean} shown */
  showPictures(shown) {
    if (!this.pictures) return;
    if (!this.map.attributionControl) L.control.attribution({ prefix: false }).addTo(this.map);
    // The map itself may go as far as without pictures.
    this.map.options.minZoom = 0;
    if (shown) this.pictures.addTo(this.map); else this.pictures.remove();
    this.layer.over = shown;
    this.restyle(shown);
    this.layer.draw();
  }

  /** Draw in the look that the page has now. */
  relook() {
    const before = look();
    readLook();
    if (look() === before) return;
    this.restyle(this.layer.over);
    this.layer.draw();
  }

  /**
   * A mark with a sign of its own; no word of the map is written over it.
   * @param {L.LatLngExpression} place @param {string} kind class of its look
   * @param {string | Node} content @param {number} size pixels
   * @param {{ title?: string, onPress?: () => void, above?: number }} options
   */
  mark(place, kind, content, size, { title = "", onPress, above = 0 } = {}) {
    const icon = L.divIcon({ className: kind, html: make("span", {}, content), iconSize: [size, size] });
    const mark = L.marker(place, { icon, title, keyboard: false, interactive: Boolean(onPress || title), zIndexOffset: above }).addTo(this.map);
    if (onPress) mark.on("click", onPress);
    this.layer.marks.push([mark.getLatLng(), size / 2]);
    return mark;
  }

  hidePosition() {
    this.around?.remove();
    this.here?.remove();
    this.around = this.here = undefined;
  }

  /** Draw the words anew, once marks were added. */
  draw() { this.layer.draw(); }

  /**
   * Where the device is, and how well that is known.
   * @param {number} lat @param {number} lon @param {number} accuracy_m
   */
  showPosition(lat, lon, accuracy_m) {
    const here = L.latLng(lat, lon);
    if (!this.here) {
      this.around = L.circle(here, { radius: accuracy_m, weight: 1.5, color: look().here, fillOpacity: 0.12, interactive: false }).addTo(this.map);
      const icon = L.divIcon({ className: "here-mark", html: "", iconSize: [20, 20] });
      this.here = L.marker(here, { icon, title: "You are here", keyboard: false, interactive: false }).addTo(this.map);
    }
    this.around?.setLatLng(here).setRadius(accuracy_m);
    this.here.setLatLng(here);
    if (!this.map.getBounds().pad(-0.15).contains(here)) this.map.panTo(here);
  }
}
