// The key to the ground: a sample and a word for each kind of zone, path and place that there is.
import { make, picture } from "./dom.js";
import { casing, isWooded, pathStyle, zoneStyle } from "./ground.js";
import { MARKS } from "./labels.js";
import { look } from "./look.js";

/** @typedef {CanvasRenderingContext2D} Pen */
/** @typedef {GeoJSON.Feature<any, any>} Feature */

const WIDE = 44, HIGH = 22;
/** @type {Record<string, string>} */
const ZONES = { water: "water", building: "building", keep_out: "keep out" };
const PLACES = { start: "place to start", hazard: "hazard", landmark: "landmark" };

/** @param {Feature} zone */
export const zoneWord = (zone) => ZONES[zone.properties.kind] || (isWooded(zone) ? "trees and hedges" : "open ground");

/** @param {Feature} path */
export function pathWord({ properties }) {
  const { level, open_to, kind } = properties;
  if (level > 0) return "bridge";
  const closed = open_to === "closed" ? ", closed" : open_to === "team" ? ", for the team only" : "";
  return (kind === "road" || kind === "track" ? "road or track" : "path") + closed;
}

/** @param {Pen} pen @param {L.PathOptions} style */
function setPen(pen, { color, weight, dashArray, lineCap, fillColor }) {
  pen.strokeStyle = color || "";
  pen.lineWidth = weight || 1;
  pen.lineCap = /** @type {CanvasLineCap} */ (lineCap || "butt");
  pen.fillStyle = fillColor || "";
  pen.setLineDash(String(dashArray || "").split(" ").filter(Boolean).map(Number));
}

/** @param {Pen} pen @param {L.PathOptions} style */
function drawLine(pen, style) {
  setPen(pen, style);
  pen.beginPath();
  pen.moveTo(3, HIGH / 2);
  pen.lineTo(WIDE - 3, HIGH / 2);
  pen.stroke();
}

/** @param {Pen} pen @param {L.PathOptions} style */
function drawArea(pen, style) {
  setPen(pen, style);
  pen.fillRect(2, 2, WIDE - 4, HIGH - 4);
  pen.strokeRect(2, 2, WIDE - 4, HIGH - 4);
}

/** @param {Pen} pen @param {string} mark */
function drawMark(pen, mark) {
  pen.font = "700 17px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillStyle = look().ink;
  pen.fillText(mark, WIDE / 2, HIGH / 2);
}

/**
 * Fill a list with what the ground holds; gives whether there was anything.
 * @param {HTMLElement} list @param {import("./types").Layers} layers
 */
export function fillKey(list, layers) {
  /** @type {Map<string, (pen: Pen) => void>} */
  const entries = new Map();
  for (const zone of layers.zones.features) entries.set(zoneWord(zone), (pen) => drawArea(pen, zoneStyle(zone)));
  for (const path of layers.paths.features) {
    entries.set(pathWord(path), (pen) => { drawLine(pen, casing(path)); drawLine(pen, pathStyle(path)); });
  }
  for (const [kind, word] of Object.entries(PLACES)) {
    const there = layers.places.features.some(({ properties }) => (properties.kind || "landmark") === kind);
    if (there) entries.set(word, (pen) => drawMark(pen, MARKS[kind]));
  }
  list.replaceChildren(...Array.from(entries, ([word, draw]) => make("li", {}, picture(WIDE, HIGH, "sample", draw), word)));
  return entries.size > 0;
}
