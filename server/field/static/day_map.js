// The map of the day: the round with its way, or the boxes that are due; a press opens the box.
import { make } from "/static/js/dom.js";
import { PADDING, TrailMap, openMap } from "/static/js/trail_map.js";
import { RoundMap } from "/static/rounds/round_map.js";
import { addressOf } from "./list.js";
import { offerPictures } from "./pictures.js";

/** @typedef {import("./field.js").Field} Page */
/** @typedef {import("./walk.js").Walk} Walk */
/** @typedef {import("/static/js/types").Layers} Layers */

class WalkedMap extends RoundMap {
  /** @param {import("/static/js/types").Stop} stop @param {number} size @param {boolean} several */
  _drawStop(stop, size, several) {
    const kind = "stop-mark" + (stop.approach !== "open" ? " look" : "") + (several ? " walker-" + stop.walker : "");
    return this.mark([stop.lat, stop.lon], kind, String(stop.order), size, {
      title: "Stop " + stop.order + ": " + stop.boxes.join(", "), onPress: () => { location.hash = addressOf(stop.boxes[0]); },
    });
  }

  /** @param {Walk} walk */
  update(walk) {
    const open = walk.stops.filter(({ boxes }) => boxes.some((box) => walk.isOpen(box))).map(({ key }) => key);
    this.showDone((key) => !open.includes(key));
    this.showNext(open[0] ?? null);
  }
}

class DueMap extends TrailMap {
  /** @param {HTMLElement} place @param {Walk} walk @param {Layers} layers */
  constructor(place, walk, layers) {
    const map = openMap(place), marks = walk.order.flatMap((id, i) => {
      const { box, lat, lon, approach } = /** @type {import("./visit.js").Box} */ (walk.boxes.get(id));
      return lat === null || lon === null ? [] : [{ box, at: L.latLng(lat, lon), kind: "stop-mark" + (approach === "open" ? "" : " look"), number: String(i + 1) }];
    });
    if (marks.length) map.fitBounds(L.latLngBounds(marks.map(({ at }) => at)), { ...PADDING, maxZoom: 18 });
    else map.setView([0, 0], 1);
    super(map, layers, { units: place.dataset.units });
    this.marks = new Map(marks.map(({ box, at, kind, number }) => [box, this.mark(at, kind, number, 22, { title: "Box " + box, onPress: () => { location.hash = addressOf(box); } })]));
    this.draw();
  }

  /** @param {Walk} walk */
  update(walk) {
    for (const [box, mark] of this.marks) mark.getElement()?.classList.toggle("done", !walk.isOpen(box));
  }
}

/** @typedef {WalkedMap | DueMap} DayMap */

/** @type {Promise<unknown> | undefined} */
let leaflet;

function loadLeaflet() {
  const at = "/static/map/leaflet/leaflet.";
  document.head.prepend(make("link", { rel: "stylesheet", href: at + "css" }));
  return new Promise((onload, onerror) => document.head.append(make("script", { src: at + "js", onload, onerror })));
}

/** Draw the map where the list holds it; anew where the day or the ground has changed. @param {Page} page */
export async function drawDayMap(page) {
  await (leaflet ??= loadLeaflet());
  const { mapPlace: place, walk, beside } = page;
  if (!place.isConnected || !beside || !walk) return;
  if (page.mapIsOld) page.map?.map.remove();
  if (page.mapIsOld || !page.map) {
    const layers = JSON.parse(beside.ground);
    page.map = walk.round ? new WalkedMap(place, walk.round, layers) : new DueMap(place, walk, layers);
    page.mapIsOld = false;
    offerPictures(page.picturesPlace, layers.background, page.map.map.getBounds());
  } else {
    page.map.map.invalidateSize();
  }
  page.map.update(walk);
}
