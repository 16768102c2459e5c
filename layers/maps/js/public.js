// The public map: one symbol a grid cell, from the data that the page holds, over the layers that may be shown.
import { find, make } from "./dom.js";
import { look } from "./look.js";
import { TrailMap } from "./trail_map.js";

/** @typedef {import("./types").Cell} Cell */

const PADDING = { padding: /** @type {[number, number]} */ ([20, 20]) };

/** A count with its word. @param {number} number @param {string} one @param {string} many */
export const counted = (number, one, many) => number + " " + (number === 1 ? one : many);

const boxesIn = (/** @type {number} */ number) => counted(number, "box", "boxes");

const square = () => ({ color: look().ink, weight: 1.5, fillColor: look().night ? "#3d4c46" : "#fff", fillOpacity: 0.35 });

/** @param {Cell} cell */
const corners = ({ bounds: [west, south, east, north] }) => L.latLngBounds([south, west], [north, east]);

/** @param {Cell[]} cells */
const boundsOf = (cells) => cells.reduce((all, cell) => all.extend(corners(cell)), L.latLngBounds([]));

/** @param {Cell} cell */
const cardOf = (cell) => make("div", {}, make("h3", {}, boxesIn(cell.boxes)),
  ...[cell.place, boxesIn(cell.nested) + " with a finished nest this season",
    cell.in_use === null ? "" : boxesIn(cell.in_use) + " in use",
    counted(cell.nests, "nest", "nests") + " published of all seasons", cell.species.join(", ")]
    .filter(Boolean).map((words) => make("p", {}, words)));

/** @param {Cell} cell @param {boolean} roomy whether there is room for words */
function iconOf(cell, roomy) {
  const html = make("div", {}, make("div", {}, roomy ? boxesIn(cell.boxes) : String(cell.boxes)),
    roomy && cell.nested ? make("small", {}, cell.nested + " nested") : null, roomy && cell.in_use ? make("small", {}, cell.in_use + " in use") : null);
  const className = ["badge", cell.nested ? "nested" : "", cell.in_use ? "used" : ""].filter(Boolean).join(" ");
  const lines = roomy && cell.nested && cell.in_use ? 3 : 2;
  return L.divIcon({ className, html, iconSize: roomy ? [110, 18 * lines + 16] : [44, 44] });
}

/** @param {L.Map} map @param {Cell} cell */
function addCell(map, cell) {
  const words = boxesIn(cell.boxes) + ", " + cell.nested + " nested, in the grid square at " + cell.place;
  const marker = L.marker([cell.lat, cell.lon], { icon: iconOf(cell, false), title: words, riseOnHover: true });
  marker.bindPopup(cardOf(cell), { maxWidth: 260 }).addTo(map);
  let roomy = /** @type {boolean | null} */ (null);
  return () => {
    const bounds = corners(cell), low = map.latLngToContainerPoint(bounds.getSouthEast()), high = map.latLngToContainerPoint(bounds.getNorthWest());
    const now = low.x - high.x >= 126 && low.y - high.y >= 80;
    if (now === roomy) return;
    roomy = now;
    marker.setIcon(iconOf(cell, roomy));
    marker.getElement()?.setAttribute("aria-label", words);
  };
}

/** Name what is under the pointer: a wide shape that is not seen, over each that is drawn. @param {L.Map} map @param {import("./types").Layers} layers */
function addNames(map, { zones, paths, places }) {
  const unseen = { opacity: 0, fillOpacity: 0, weight: 12, radius: 12 };
  for (const shape of [...zones.features, ...paths.features, ...places.features]) {
    const words = [shape.properties.name, shape.properties.kind].filter(Boolean).join(", ");
    L.geoJSON(shape, { style: unseen, pointToLayer: (_, at) => L.circleMarker(at, unseen) })
      .bindTooltip(make("span", {}, words), { sticky: true }).addTo(map);
  }
}

/** @param {HTMLElement} frame */
function draw(frame) {
  // A server answers `?embed` with the page for other sites; a folder cannot.
  if (location.search === "?embed" && !document.body.classList.contains("embedded")) { location.replace("embed.html"); return; }
  const { cells, around_m, ...layers } = JSON.parse(find("drawn").textContent);
  frame.hidden = false;
  const map = L.map(frame, { zoomControl: false, zoomSnap: 0.25, attributionControl: false, maxZoom: 19 });
  // Leaflet makes a marker's element only once the map has a view.
  map.fitBounds(boundsOf(cells), PADDING);
  if (around_m) {
    const around = L.circle([cells[0].lat, cells[0].lon], { radius: around_m, interactive: false, color: look().soft, weight: 2, dashArray: "9 8", fill: false }).addTo(map);
    if (!layers.paths.features.length) map.fitBounds(around.getBounds(), PADDING);
  }
  const view = new TrailMap(map, layers, {});
  if (view.ground.isValid()) map.fitBounds(boundsOf(cells).extend(view.ground), PADDING);
  addNames(map, layers);
  const squares = L.featureGroup(cells.map((/** @type {Cell} */ cell) => L.rectangle(corners(cell), { interactive: false, ...square() }))).addTo(map);
  const restyle = view.restyle;
  view.restyle = (pictures) => { restyle(pictures); squares.setStyle(square()); };
  const fits = cells.map((/** @type {Cell} */ cell) => addCell(map, cell));
  for (const cell of cells) view.layer.marks.push([L.latLng(cell.lat, cell.lon), 22]);
  const fitAll = () => { for (const fit of fits) fit(); };
  map.on("zoomend", fitAll);
  fitAll();
  view.draw();
  L.control.zoom({ position: "topleft" }).addTo(map);
}

const frame = find("map");
if (frame && "L" in window) draw(frame);
