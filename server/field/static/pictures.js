// Keeping the pictures of the ground on the device, by area and zoom; their size is shown before.
import { make, makeButton, refill } from "/static/js/dom.js";
import { at, named } from "/static/web/base.js";
import { fetchJson } from "./fetching.js";

/** @typedef {import("/static/js/types").Pictures} Pictures */
/** @typedef {{ zoom: number, tiles: [number, number][], size_bytes: number }} ZoomTiles */

const AT_ONCE = 6;
const CACHE = named("boxround pictures") + " ";

/** The zooms with all coarser ones, as a person chooses among them. @param {ZoomTiles[]} zooms */
export function choices(zooms) {
  let size_bytes = 0, count = 0;
  return zooms.map(({ zoom, tiles, size_bytes: own }) => {
    size_bytes += own;
    count += tiles.length;
    return { zoom, count, size_bytes };
  });
}

export const megabytes = (/** @type {number} */ bytes) => Math.max(0.1, bytes / 1e6).toFixed(1) + " MB";

/** @param {Pictures} own @param {ZoomTiles[]} zooms @param {(done: number) => void} progress */
async function keep({ url, version }, zooms, progress) {
  const name = CACHE + version, cache = await caches.open(name);
  const waiting = zooms.flatMap(({ zoom, tiles }) => tiles.map(([x, y]) => url.replace("{z}", String(zoom)).replace("{x}", String(x)).replace("{y}", String(y))));
  let done = 0;
  const work = async () => {
    for (let address = waiting.pop(); address; address = waiting.pop()) {
      if (!await cache.match(address)) await cache.add(address);
      progress(++done);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, work));
  for (const other of await caches.keys()) if (other.startsWith(CACHE) && other !== name) await caches.delete(other);
}

/**
 * Offer to keep the pictures, where the browser can keep any.
 * @param {HTMLElement} place @param {Pictures | undefined} own @param {L.LatLngBounds} today bounds of the day's boxes
 */
export function offerPictures(place, own, today) {
  refill(place);
  if (!own?.bounds || !("caches" in window) || !navigator.serviceWorker?.controller) return;
  const [west, south, east, north] = own.bounds;
  const areas = { "today's boxes": [today.getWest(), today.getSouth(), today.getEast(), today.getNorth()], "the whole trail": [west, south, east, north] };
  const area = make("select", { "aria-label": "Area" }, ...Object.keys(areas).map((words) => make("option", {}, words)));
  const zoom = make("select", { "aria-label": "Detail" }), answer = make("span", { role: "status" });
  /** @type {ZoomTiles[]} */
  let found = [];
  const look = async () => {
    const bounds = areas[/** @type {keyof areas} */ (area.value)];
    try {
      found = await fetchJson(at("/map/background?") + new URLSearchParams(["west", "south", "east", "north"].map((name, i) => [name, String(bounds[i])])));
      refill(zoom, ...choices(found).map((one) => make("option", { value: String(one.zoom) }, "to zoom " + one.zoom + ": " + megabytes(one.size_bytes))));
      zoom.selectedIndex = zoom.options.length - 1;
      answer.textContent = "";
    } catch {
      answer.textContent = "Sizes are known only with a connection.";
    }
  };
  const button = makeButton("Keep them", {}, async () => {
    const wanted = found.filter((one) => one.zoom <= Number(zoom.value)), count = wanted.reduce((all, { tiles }) => all + tiles.length, 0);
    button.disabled = true;
    try {
      await keep(own, wanted, (done) => { answer.textContent = done + " of " + count + " pictures"; });
      answer.textContent = count + " pictures are on this device.";
    } catch {
      answer.textContent = "Not all pictures could be kept: there is no connection, or no room.";
    }
    button.disabled = false;
  });
  const more = make("details", { className: "pictures" }, make("summary", {}, "Pictures of the ground without a signal"),
    make("p", { className: "line" }, area, zoom, button, answer));
  more.addEventListener("toggle", () => { if (more.open && !found.length) look(); });
  area.addEventListener("change", look);
  place.append(more);
}
