// Measuring on the map: a line from point to point, by pointer or from the middle of the map by keyboard.
import { make } from "./dom.js";
import { look } from "./look.js";
import { formatDistance } from "./way.js";

const HINT = "Press points on the map, or Enter for its middle. Escape ends.";

/** The length of a line in words. @param {L.LatLng[]} points @param {string} units */
export function lengthWords(points, units) {
  const metres = points.slice(1).reduce((all, point, at) => all + point.distanceTo(points[at]), 0);
  return formatDistance(metres, units) + (points.length > 2 ? " in " + (points.length - 1) + " legs" : "");
}

export class Ruler {
  /** @param {L.Map} map @param {string} units @param {() => void} changed called when measuring begins or ends */
  constructor(map, units, changed) {
    this.map = map;
    this.units = units;
    this.changed = changed;
    this.active = false;
    /** @type {L.LatLng[]} */
    this.points = [];
    this.lines = L.layerGroup().addTo(map);
    this.words = make("p", { className: "measured", role: "status", hidden: true });
    this.middle = make("span", { className: "middle", "aria-hidden": "true", hidden: true });
    map.getContainer().append(this.words, this.middle);
    map.getContainer().addEventListener("keydown", (event) => this._key(event));
  }

  toggle() {
    this.active = !this.active;
    this.points = [];
    this.words.hidden = this.middle.hidden = !this.active;
    if (this.active) this.map.getContainer().focus({ preventScroll: true });
    this._draw();
    this.changed();
  }

  /** Take a point while measuring; gives whether it was taken. @param {L.LatLng} point */
  take(point) {
    if (this.active) {
      this.points.push(point);
      this._draw();
    }
    return this.active;
  }

  /** @param {KeyboardEvent} event */
  _key(event) {
    if (!this.active || event.target !== this.map.getContainer()) return;
    if (event.key === "Enter") this.take(this.map.getCenter());
    else if (event.key === "Backspace") { this.points.pop(); this._draw(); }
    else if (event.key === "Escape") this.toggle();
    else return;
    event.preventDefault();
  }

  _draw() {
    const { points } = this, { ink, paper } = look(), last = points[points.length - 1];
    this.lines.clearLayers();
    for (const style of [{ color: paper, weight: 7 }, { color: ink, weight: 3, dashArray: "7 6" }]) {
      L.polyline(points, { ...style, interactive: false }).addTo(this.lines);
    }
    for (const point of points) {
      L.circleMarker(point, { radius: 5, color: ink, weight: 2, fillColor: paper, fillOpacity: 1, interactive: false }).addTo(this.lines);
    }
    this.words.textContent = points.length > 1 ? lengthWords(points, this.units) + ". Backspace takes the last point back." : last ? "Press the next point." : HINT;
  }
}
