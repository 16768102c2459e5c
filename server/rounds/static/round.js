// The round's page with its map.
import { find, make, refill } from "/static/js/dom.js";
import { loadJson } from "/static/js/packed.js";
import { at } from "/static/web/base.js";
import { RoundMap } from "./round_map.js";

const place = find("map");

async function open() {
  find("no-map").remove();
  place.hidden = false;
  try {
    const [round, ground] = await Promise.all([loadJson(place.dataset.round), loadJson(at("/map/ground"))]);
    new RoundMap(place, round, ground);
  } catch (error) {
    refill(place, make("p", { className: "mark" }, "The map could not be loaded. " + /** @type {Error} */ (error).message));
  }
}

open();
