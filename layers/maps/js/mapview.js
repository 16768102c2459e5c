// The trail's map on its own page: its buttons, and which part of it is in sight.
import { make, makeButton } from "./dom.js";
import { TrailMap } from "./trail_map.js";

const EDGE_PX = 14;

export class MapView extends TrailMap {
  /** @param {L.Map} map @param {import("./types").Base} base @param {import("./types").Layers} layers @param {import("./types").Settings["tiles"]} tiles */
  constructor(map, base, layers, tiles) {
    if (tiles) L.tileLayer(tiles.url, { attribution: make("span", {}, tiles.attribution).innerHTML }).addTo(map);
    super(map, layers, { boxes: base, units: base.header.units, overTiles: Boolean(tiles) });
    // A card is at the right; on a phone the thumb reaches the bottom.
    this.phone = window.matchMedia("screen and (max-width: 899px)");
    this.moved = this.fitting = false;
    map.attributionControl.setPrefix(false);
    const boxes = this.layer.bounds();
    this.whole = boxes.isValid() ? boxes : this.ground;
    this._addButtons();
    this.fit();
    new ResizeObserver(() => this.keepToRoom()).observe(map.getContainer());
    map.getContainer().setAttribute("aria-label", "Map of the boxes. The list view has the same in words.");
    map.getContainer().setAttribute("role", "application");
  }

  _addButtons() {
    const corner = () => (this.phone.matches ? "bottomright" : "topleft");
    const zoom = L.control.zoom({ position: corner() }), fit = new L.Control({ position: corner() }), words = "Show the whole trail";
    fit.onAdd = () => {
      const button = makeButton("\u2922", { className: "fit", title: words, "aria-label": words }, () => this.fit());
      L.DomEvent.disableClickPropagation(button);
      return button;
    };
    for (const control of [zoom, fit]) control.addTo(this.map);
    this.phone.addEventListener("change", () => { for (const control of [zoom, fit]) control.setPosition(corner()); });
  }

  /** Show the whole trail, the symbols at its edges whole too. */
  fit() {
    const size = this.map.getSize(), edge = Math.max(0.03, EDGE_PX / Math.max(1, Math.min(size.x, size.y)));
    this.fitting = true;
    if (this.whole.isValid()) this.map.fitBounds(this.whole.pad(edge), { maxZoom: 17, animate: false });
    this.fitting = this.moved = false;
  }

  /** Keep to the room there is, which folding the panel, the list in its place or a turned phone changes. */
  keepToRoom() {
    const room = this.map.getContainer(), before = this.map.getSize();
    if (!room.clientWidth || !room.clientHeight) return;
    this.fitting = true;
    this.map.invalidateSize({ animate: false });
    this.fitting = false;
    if (!this.moved && !before.equals(this.map.getSize())) this.fit();
  }

  /** Show one place; from now on what is in sight was chosen by hand. @param {{ lat: number, lon: number, zoom: number }} at */
  go({ lat, lon, zoom }) {
    this.map.setView([lat, lon], zoom, { animate: false });
    this.moved = true;
  }

  /** Where the map was moved to by hand; null where it shows the whole trail. */
  get at() {
    const { lat, lng } = this.map.getCenter();
    return this.moved ? { lat, lon: lng, zoom: this.map.getZoom() } : null;
  }

  /** @param {() => void} call */
  onMoved(call) {
    this.map.on("moveend", () => { if (!this.fitting) this.moved = true; call(); });
  }

  /**
   * Numbers of the boxes that a press at a point may mean, nearest first: several where they are drawn on top of each other.
   * @param {L.Point} point @returns {number[]}
   */
  meant(point) {
    const found = this.layer.near(point), first = found.length ? this.layer.place(found[0]) : null;
    const at = (/** @type {L.LatLng} */ place) => this.map.latLngToContainerPoint(place);
    return found.filter((/** @type {number} */ i) => this.layer.place(i).distanceTo(first) < 1 || at(this.layer.place(i)).distanceTo(at(first)) < 9);
  }
}
