// The round's page with its map, for the walk itself, and kept for where there is no signal.
import { find, make, refill } from "/static/js/dom.js";
import { loadJson } from "/static/js/packed.js";
import { RoundMap } from "./round_map.js";
import { Walking } from "./round_walk.js";

const place = find("map"), section = find("walking");

// Ask the worker to keep all that this page was made of; false where it cannot.
async function keep() {
  if (!("serviceWorker" in navigator)) return false;
  await navigator.serviceWorker.register("/round/worker.js", { scope: "/round" });
  const { active } = await navigator.serviceWorker.ready;
  const own = performance.getEntriesByType("resource").map((entry) => entry.name)
    .filter((name) => new URL(name).origin === location.origin && !name.includes("/round/worker.js"));
  const channel = new MessageChannel();
  return new Promise((resolve) => {
    channel.port1.onmessage = (event) => resolve(event.data);
    active?.postMessage([...new Set([location.href.split("#")[0], ...own])], [channel.port2]);
  });
}

async function open() {
  find("no-map").remove();
  place.hidden = false;
  let round, map = null;
  try {
    const [planned, ground] = await Promise.all([loadJson(place.dataset.round), loadJson("/map/ground")]);
    round = planned;
    map = new RoundMap(place, round, ground);
  } catch (error) {
    refill(place, make("p", { className: "mark" }, "The map could not be loaded. " + /** @type {Error} */ (error).message));
  }
  if (!round) return;
  const walking = new Walking(section, round, map);
  walking.sayKept(await keep().catch(() => false)
    ? "Kept on this device: this page opens again without a signal."
    : "Without a signal, leave this page open: it cannot be kept on this device.");
}

open();
