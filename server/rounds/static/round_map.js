// The map of a round: the way of each walker with its direction, and numbered stops.
import { openMap, PADDING, TrailMap } from "/static/js/trail_map.js";
import { stopsOf } from "./stops.js";

/** @typedef {import("/static/js/types").Round} Round */
/** @typedef {import("/static/js/types").Stop} Stop */

const ARROW_APART_PX = 90;
const ARROW_ASIDE_PX = 8;
const DASHES = [undefined, "12 7", "3 8", "16 6 3 6"];
const COLOURS = ["#8a1c4a", "#005a8c", "#00674b", "#7a4a00"];

export class RoundMap extends TrailMap {
  /** @param {HTMLElement} place @param {Round} round @param {import("/static/js/types").Layers} layers */
  constructor(place, round, layers) {
    const map = openMap(place), lines = round.geometry.coordinates.map((line) => line.map(([lon, lat]) => L.latLng(lat, lon)));
    map.fitBounds(L.latLngBounds(lines.flat()), { ...PADDING, maxZoom: 18 });
    super(map, layers, { units: place.dataset.units });
    this.lines = lines;
    const walkers = [...new Set(round.stops.map((stop) => stop.walker))];
    lines.forEach((line, i) => this._drawLine(line, walkers[i] - 1));
    this.arrows = L.layerGroup().addTo(map);
    map.on("moveend", () => this._drawArrows());
    this._drawArrows();
    for (const { geometry, properties } of layers.places.features) {
      if (properties.name !== round.from && properties.name !== round.to) continue;
      this.mark([geometry.coordinates[1], geometry.coordinates[0]], "end-mark", "\u2302", 24, { above: -500 });
    }
    const size = place.clientWidth < 500 ? 22 : 26;
    this.stops = new Map(stopsOf(round).map((stop) => [stop.key, this._drawStop(stop, size, walkers.length > 1)]));
    this.draw();
  }

  /** @param {L.LatLng[]} line @param {number} walker */
  _drawLine(line, walker) {
    const color = COLOURS[walker % COLOURS.length], dashArray = DASHES[walker % DASHES.length];
    L.polyline(line, { color: "#fff", weight: 8, opacity: 0.85, interactive: false }).addTo(this.map);
    L.polyline(line, { color, weight: 4, dashArray, interactive: false }).addTo(this.map);
  }

  // Arrows beside the line, on the right, so that a way walked out and back shows both.
  _drawArrows() {
    this.arrows.clearLayers();
    const view = this.map.getBounds().pad(0.1);
    for (const line of this.lines) {
      for (const { x, y, turn } of arrowsAlong(line.map((place) => this.map.project(place)))) {
        const at = this.map.unproject(L.point(x, y));
        if (view.contains(at)) this._drawArrow(at, turn);
      }
    }
  }

  /** @param {L.LatLng} at @param {number} turn */
  _drawArrow(at, turn) {
    const html = '<svg viewBox="-8 -8 16 16" width="16" height="16" aria-hidden="true"><path transform="rotate(' + turn + ')" d="M-4 -6L6 0L-4 6Z"/></svg>';
    L.marker(at, { icon: L.divIcon({ className: "way-arrow", html, iconSize: [16, 16] }), interactive: false, keyboard: false }).addTo(this.arrows);
  }

  /** @param {Stop} stop @param {number} size @param {boolean} several whether there are several walkers */
  _drawStop(stop, size, several) {
    const kind = "stop-mark" + (stop.approach !== "open" ? " look" : "") + (several ? " walker-" + stop.walker : "");
    return this.mark([stop.lat, stop.lon], kind, String(stop.order), size, {
      title: "Stop " + stop.order + ": " + stop.boxes.join(", "),
      onPress: () => {
        const line = document.getElementById("stop-" + stop.key);
        line?.scrollIntoView({ block: "center" });
        line?.querySelector("a")?.focus({ preventScroll: true });
      },
    });
  }

  /** @param {(key: string) => boolean} isDone */
  showDone(isDone) {
    for (const [key, mark] of this.stops) mark.getElement()?.classList.toggle("done", isDone(key));
  }

  /** @param {string | null} key */
  showNext(key) {
    for (const [other, mark] of this.stops) mark.getElement()?.classList.toggle("next", other === key);
  }
}

/**
 * Places at even distances on the right-hand side of a line, and which way it runs there.
 * @param {{ x: number, y: number }[]} line
 */
export function arrowsAlong(line) {
  const arrows = [];
  let gone = ARROW_APART_PX / 2;
  for (let i = 1; i < line.length; i++) {
    const { x, y } = line[i - 1], east = line[i].x - x, south = line[i].y - y, length = Math.hypot(east, south);
    for (; gone <= length; gone += ARROW_APART_PX) {
      const on = gone / length, aside = ARROW_ASIDE_PX / length;
      arrows.push({
        x: x + east * on - south * aside, y: y + south * on + east * aside, turn: Math.round(Math.atan2(south, east) * 180 / Math.PI),
      });
    }
    gone -= length;
  }
  return arrows;
}
