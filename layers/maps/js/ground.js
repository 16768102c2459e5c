// What is beneath the boxes, drawn from the trail itself: zones, paths and places.
import { look } from "./look.js";

/** @typedef {import("./types").Layers} Layers */
/** @typedef {import("./types").Name} Name */
/** @typedef {GeoJSON.Feature<any, any>} Feature */

/** @type {Record<string, L.PathOptions>} what the look of the page leaves open */
const LINES = { water: { weight: 1.2 }, keep_out: { weight: 2, dashArray: "6 5", fillOpacity: 0.75 } };
const WOODED = /wood|forest|hedge|orchard|thicket/i;
const ORDER = ["habitat", "water", "keep_out", "building"];

/** @param {Feature} zone */
export const isWooded = ({ properties }) => properties.kind === "habitat" &&
  WOODED.test((properties.detail || "") + " " + (properties.name || ""));

/** @param {Feature} zone @returns {L.PathOptions} */
export function zoneStyle(zone) {
  const { kind } = zone.properties, colours = /** @type {Record<string, L.PathOptions>} */ (look().zones);
  return { weight: 1, fillOpacity: 1, ...(isWooded(zone) ? colours.wood : colours[kind] || colours.habitat), ...LINES[kind] };
}

/** @param {Feature} path @returns {L.PathOptions} */
export function pathStyle({ properties }) {
  const { open_to, kind } = properties, closed = open_to === "closed";
  return {
    color: closed ? look().closed : look().path,
    weight: kind === "road" || kind === "track" ? 4 : 2.5,
    dashArray: closed ? "2 6" : open_to === "team" ? "8 5" : undefined,
    lineCap: "round",
  };
}

/** The edge beneath a path, dark on a bridge. @param {Feature} path @returns {L.PathOptions} */
export function casing(path) {
  const bridge = path.properties.level > 0;
  return { color: bridge ? look().bridge : look().casing, weight: Number(pathStyle(path).weight) + (bridge ? 4 : 3), lineCap: "butt" };
}

/**
 * Names to write on the map, the more useful ones first. A place without a name keeps its mark.
 * @param {Layers} layers @returns {Name[]}
 */
function namesOf({ places, zones }) {
  const ofPlaces = places.features.map(({ geometry, properties }) => ({
    at: L.latLng(geometry.coordinates[1], geometry.coordinates[0]), text: properties.name || "", kind: properties.kind || "landmark",
  }));
  const ofZones = zones.features.filter((zone) => zone.properties.kind !== "building").map((zone) => {
    const bounds = L.geoJSON(zone).getBounds(), kind = zone.properties.kind || "zone";
    return { at: bounds.getCenter(), bounds, kind, text: kind === "keep_out" ? "Keep out" : zone.properties.name || "" };
  });
  return [...ofPlaces, ...ofZones];
}

/**
 * Draw zones and paths; `restyle` takes the look as it is then, over pictures thinly, so that they show through.
 * @param {L.Map} map @param {Layers} layers
 */
export function addGround(map, layers) {
  map.createPane("ground").style.zIndex = "250";
  const plain = { pane: "ground", renderer: L.canvas({ pane: "ground", padding: 0.4 }), interactive: false };
  const order = (/** @type {Feature} */ zone) => ORDER.indexOf(zone.properties.kind);
  const zones = [...layers.zones.features].sort((a, b) => order(a) - order(b));
  const paths = [...layers.paths.features].sort((a, b) => (a.properties.level || 0) - (b.properties.level || 0));
  const over = { pictures: false };
  /** @type {L.GeoJSON[]} */
  const drawn = [];
  const draw = (/** @type {Feature} */ shape, /** @type {() => L.PathOptions} */ style) => {
    drawn.push(L.geoJSON(shape, /** @type {L.GeoJSONOptions} */ ({ ...plain, style })).addTo(map));
  };
  for (const zone of zones) draw(zone, () => ({ ...zoneStyle(zone), ...(over.pictures ? { fillOpacity: 0.12 } : {}) }));
  for (const path of paths) for (const style of [casing, pathStyle]) draw(path, () => style(path));
  const all = /** @type {any} */ ({ type: "FeatureCollection", features: [...paths, ...zones, ...layers.places.features] });
  return { bounds: L.geoJSON(all).getBounds(), names: namesOf(layers), restyle: (/** @type {boolean} */ pictures) => { over.pictures = pictures; drawn.forEach((one) => one.resetStyle()); } };
}
