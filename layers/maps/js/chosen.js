// The box that is chosen: its card is loaded, opened, kept to the day shown, and closed.
import { fillCard, fillChooser, fillFailed } from "./card.js";
import { find } from "./dom.js";
import { loadCard } from "./packed.js";

const MOST_TO_CHOOSE = 12;
// A day's card is loaded only once the day has been shown for so long.
const STAY_MS = 250;
// Room for the box's mark and its id.
const MARGIN_PX = 72;

/**
 * How far to move so that a point is well within a span.
 * @param {number} at @param {number} from @param {number} to
 */
export function shift(at, from, to) {
  const margin = Math.min(MARGIN_PX, (to - from) / 2);
  return at - Math.max(from + margin, Math.min(to - margin, at));
}

export class Chosen {
  /** @param {import("./main.js").Page} page */
  constructor(page) {
    this.page = page;
    /** @type {HTMLElement} */
    this.section = find("card");
    this.i = -1;
    this.waiting = 0;
    /** @type {{ on: string, html: string } | null} */
    this.card = null;
    /** @type {string | null} */
    this.filled = null;
    /** @type {string | null} */
    this.loading = null;
    document.addEventListener("keydown", (event) => { if (event.key === "Escape" && this.shown) this.close(); });
  }

  get shown() { return !this.section.hidden; }

  get box() { return this.i < 0 ? null : this.page.base.box.at(this.i); }

  /** Boxes drawn on top of each other: let one be chosen. @param {number[]} boxes */
  offer(boxes) {
    if (boxes.length === 1) { this.open(boxes[0]); return; }
    this._choose(-1);
    const { base } = this.page, choices = boxes.slice(0, MOST_TO_CHOOSE).map((i) => ({ i, box: base.box.at(i), symbol: this.page.symbolOf(i) }));
    fillChooser(this.section, choices, boxes.length - MOST_TO_CHOOSE, (i) => this.open(i), () => this.close());
    this.page.show();
  }

  /** From now on box `i` is chosen, -1 = none; what was under way for another is of no use. @param {number} i */
  _choose(i) {
    if (!this.section.contains(document.activeElement)) this.before = /** @type {HTMLElement} */ (document.activeElement);
    this.i = i;
    this.card = this.filled = this.loading = null;
    window.clearTimeout(this.waiting);
    this.page.view.layer.choose(i);
  }

  /** @param {number} i @param {string} iso */
  async _load(i, iso) {
    const { sources, base, header } = this.page, on = sources.card.includes("{day}") ? iso : header.on;
    return { on, html: await loadCard(sources.card, i, base.box.at(i), on) };
  }

  /** @param {number} i */
  async open(i) {
    const page = this.page;
    this._choose(i);
    if (page.view.phone.matches) find("panel").open = false;
    try {
      const card = await this._load(i, page.days.iso);
      if (this.i !== i) return;
      this.card = card;
      this.fill();
    } catch (error) {
      if (this.i !== i) return;
      fillFailed(this.section, page.base.box.at(i), /** @type {Error} */ (error), () => this.open(i), () => this.close());
    }
    this.section.scrollTop = 0;
    this.section.focus({ preventScroll: true });
    page.show();
    this.reveal();
  }

  /** Fill the card anew where the day shown, or what is known of it, is another. */
  fill() {
    if (!this.card) return;
    const state = this.page.stateOf(this.i), filled = JSON.stringify([this.card.on, state]);
    this._keepUp(this.i, this.card.on);
    if (this.filled === filled) return;
    this.filled = filled;
    fillCard(this.section, this.page.base.box.at(this.i), this.card.html, state, () => this.close());
  }

  /** Where a card can be had for any day, get that of the day shown. @param {number} i @param {string} on day of the card there is */
  _keepUp(i, on) {
    const { sources, days } = this.page, iso = days.iso;
    if (this.loading === iso) return; // under way, or it failed
    window.clearTimeout(this.waiting);
    this.loading = null;
    if (on === iso || days.playing || !sources.card.includes("{day}")) return;
    this.loading = iso;
    this.waiting = window.setTimeout(async () => {
      const card = await this._load(i, iso).catch(() => null);
      if (!card || this.i !== i || this.loading !== iso) return;
      this.card = card;
      this.fill();
    }, STAY_MS);
  }

  /** Move the map so that the card does not cover the box. */
  reveal() {
    const { map, layer } = this.page.view, place = this.i < 0 || !this.shown ? null : layer.place(this.i);
    const own = map.getContainer().getBoundingClientRect(), over = this.section.getBoundingClientRect();
    if (!place || !own.width || !own.height) return;
    // A card at the side leaves what is left of it; one along the bottom, what is above.
    const atSide = over.left - own.left > own.width / 4;
    const right = atSide ? Math.min(own.width, over.left - own.left) : own.width;
    const bottom = atSide ? own.height : Math.min(own.height, over.top - own.top);
    const point = map.latLngToContainerPoint(place);
    map.panBy([shift(point.x, 0, right), shift(point.y, 0, bottom)], { animate: false });
  }

  close() {
    if (!this.shown && this.i < 0) return;
    this._choose(-1);
    this.section.hidden = true;
    this.page.show();
    this._returnFocus();
  }

  /** The keyboard goes back to what was pressed; if that is gone or folded away by now, to the map or the list. */
  _returnFocus() {
    const pressed = this.before && (this.before.isConnected ? this.before : document.getElementById(this.before.id));
    const places = [pressed, this.page.view.map.getContainer(), find("list-view")];
    places.find((one) => one && one !== document.body && one.checkVisibility()).focus({ preventScroll: true });
  }
}
