// The map on which a site for a box is chosen, and the device's own position.
import { columnsOf } from "/static/js/boxes.js";
import { find } from "/static/js/dom.js";
import { loadJson } from "/static/js/packed.js";
import { openMap, PADDING, TrailMap } from "/static/js/trail_map.js";
import { at } from "/static/web/base.js";

/** @typedef {[number, number]} Place latitude and longitude */

const SYMBOL = { word: "box", shape: "disc", colour: "#f0e442" };
const place = find("map"), status = find("progress"), here = find("here");

/** Judge a place, keeping the species that spots are shown for. @param {number} lat @param {number} lon */
function judge(lat, lon) {
  const query = new URLSearchParams(location.search);
  query.set("lat", lat.toFixed(6));
  query.set("lon", lon.toFixed(6));
  location.assign(at("/site?") + query + "#judged");
}

async function draw() {
  const [layers, found] = await Promise.all([loadJson(at("/map/ground")), loadJson(at("/api/boxes?on=") + place.dataset.on)]);
  const boxes = /** @type {GeoJSON.Feature<GeoJSON.Point, { occupancy: string }>[]} */ (found.features)
    .filter((box) => box.geometry && box.properties.occupancy !== "out of service")
    .map(({ id, geometry: { coordinates: [lon, lat] } }) => ({ box: String(id), lat, lon }));
  /** @type {Place[]} */
  const spots = JSON.parse(place.dataset.spots), chosen = place.dataset.lat ? [[Number(place.dataset.lat), Number(place.dataset.lon)]] : [];
  const all = /** @type {Place[]} */ ([...boxes.map((box) => [box.lat, box.lon]), ...spots, ...chosen]);
  place.hidden = false;
  const map = openMap(place);
  if (all.length) map.fitBounds(L.latLngBounds(all), { ...PADDING, maxZoom: 17 }); else map.setView([0, 0], 2);
  const columns = columnsOf(boxes), view = new TrailMap(map, layers, { boxes: columns, units: place.dataset.units });
  const none = new Uint8Array(boxes.length);
  spots.forEach(([lat, lon], i) => {
    view.mark([lat, lon], "spot-mark", String(i + 1), 26, { title: "Spot " + (i + 1), onPress: () => judge(lat, lon) });
  });
  for (const at of /** @type {Place[]} */ (chosen)) view.mark(at, "chosen-mark", "", 30, { title: "The site judged", above: 900 });
  view.layer.paint(none, [SYMBOL], none);
  map.on("click", (event) => judge(event.latlng.lat, event.latlng.lng));
}

here.hidden = false;
here.addEventListener("click", () => {
  if (!window.isSecureContext || !navigator.geolocation) {
    status.textContent = "The browser gives a position only to a page opened with https.";
    return;
  }
  status.textContent = "Waiting for your position.";
  navigator.geolocation.getCurrentPosition(
    (found) => judge(found.coords.latitude, found.coords.longitude),
    () => { status.textContent = "Your position is not known at the moment."; },
    { enableHighAccuracy: true, timeout: 20000 });
});

draw().catch((error) => { status.textContent = "The map could not be loaded. " + error.message; });
