// The map of the day: the round with its way, or the boxes that are due; a press opens the box.
import { PADDING, TrailMap, openMap } from "/static/js/trail_map.js";
import { RoundMap } from "/static/rounds/round_map.js";
import { addressOf } from "./list.js";

/** @typedef {import("./field.js").Field} Page */
/** @typedef {import("/static/js/types").Layers} Layers */

class WalkedMap extends RoundMap {
  /** @param {import("/static/js/types").Stop} stop @param {number} size @param {boolean} several */
  _drawStop(stop, size, several) {
    const kind = "stop-mark" + (stop.approach !== "open" ? " look" : "") + (several ? " walker-" + stop.walker : "");
    return this.mark([stop.lat, stop.lon], kind, String(stop.order), size, {
      title: "Stop " + stop.order + ": " + stop.boxes.join(", "), onPress: () => { location.hash = addressOf(stop.boxes[0]); },
    });
  }

  /** @param {Page} page */
  update(page) {
    const isDone = (/** @type {string} */ key) => page.stops.some((stop) => stop.key === key && stop.boxes.every((box) => page.stateOf(box).kind !== "open"));
    this.showDone(isDone);
    this.showNext(page.stops.find((stop) => !isDone(stop.key))?.key ?? null);
  }
}

class DueMap extends TrailMap {
  /** @param {HTMLElement} place @param {Page} page @param {Layers} layers */
  constructor(place, page, layers) {
    const placed = page.order.map((id) => page.box(id)).filter((box) => box && box.lat !== null), map = openMap(place);
    const at = (/** @type {any} */ box) => L.latLng(box.lat, box.lon);
    if (placed.length) map.fitBounds(L.latLngBounds(placed.map(at)), { ...PADDING, maxZoom: 18 });
    else map.setView([0, 0], 1);
    super(map, layers, { units: place.dataset.units });
    this.marks = new Map(placed.map((box) => [box?.box ?? "", this.mark(at(box), "stop-mark" + (box?.approach === "open" ? "" : " look"),
      String(page.order.indexOf(box?.box ?? "") + 1), 22, { title: "Box " + box?.box, onPress: () => { location.hash = addressOf(box?.box ?? ""); } })]));
    this.draw();
  }

  /** @param {Page} page */
  update(page) {
    for (const [box, mark] of this.marks) mark.getElement()?.classList.toggle("done", page.stateOf(box).kind !== "open");
  }
}

/** @param {HTMLElement} place @param {Page} page @param {Layers} layers @returns {WalkedMap | DueMap} */
export const openDayMap = (place, page, layers) => page.round ? new WalkedMap(place, page.round, layers) : new DueMap(place, page, layers);
