// Which boxes are due: loaded for one day at a time, since every day takes other data.
import { formatDay } from "./days.js";
import { load, unpack } from "./packed.js";

/** @typedef {import("./types").DueDay} DueDay */
/** @typedef {{ text: string, press?: string, act?: () => void }} Notice what to say beside the map, and a button where one helps */

// A day is loaded only once it has been shown for so long.
const STAY_MS = 250;
// Days in memory: two months are as far ahead as rounds are planned.
const MOST_DAYS = 60;
// The one symbol of all boxes while a day is not known, and why it is not.
const blank = (/** @type {string} */ word) => [{ word, shape: "small ring", colour: "#FFFFFF" }];
const LOADING = blank("loading"), FAILED = blank("could not be loaded"), NOT_KNOWN = blank("not known for this day");

export class DueDays {
  /**
   * @param {string} source holds {day}, or has the day `on` alone
   * @param {string} on
   * @param {() => void} onChange when the day last shown came, failed to, or is tried anew
   */
  constructor(source, on, onChange) {
    this.source = source;
    this.on = on;
    this.onChange = onChange;
    /** @type {Map<string, DueDay>} */
    this.known = new Map();
    /** @type {Map<string, Error>} */
    this.failed = new Map();
    /** @type {Set<string>} */
    this.loading = new Set();
    this.everyDay = source.includes("{day}");
    this.wanted = on;
    this.waiting = 0;
  }

  /** Which boxes are due on a day; null where that is not known, or not yet. @param {string} iso */
  of(iso) {
    const day = this.known.get(iso);
    window.clearTimeout(this.waiting);
    this.wanted = iso;
    if (!day && this._canLoad(iso) && !this.failed.has(iso) && !this.loading.has(iso)) {
      this.waiting = window.setTimeout(() => this.load(iso), this.known.size || this.loading.size ? STAY_MS : 0);
    }
    return day || null;
  }

  /** @param {string} iso */
  _canLoad(iso) { return this.everyDay || iso === this.on; }

  /** @param {string} iso */
  async load(iso) {
    this.loading.add(iso);
    if (this.failed.delete(iso)) this.onChange();
    try {
      const day = unpack(await load(this.source.replace("{day}", iso)));
      for (const oldest of this.known.keys()) if (this.known.size >= MOST_DAYS) this.known.delete(oldest);
      this.known.set(iso, day);
    } catch (error) {
      this.failed.set(iso, /** @type {Error} */ (error));
    }
    this.loading.delete(iso);
    if (iso === this.wanted) this.onChange();
  }

  /** The symbols of a day that is not known. @param {string} iso */
  symbols(iso) {
    if (!this._canLoad(iso)) return NOT_KNOWN;
    return this.failed.has(iso) ? FAILED : LOADING;
  }

  /**
   * What to say of a day beside the map.
   * @param {string} iso @param {(iso: string) => void} toDay
   * @returns {Notice}
   */
  notice(iso, toDay) {
    const day = formatDay(iso), only = formatDay(this.on), failed = this.failed.get(iso);
    if (this.known.has(iso)) return { text: "Visits due on " + day + ", from the visits up to that day; worked out day by day." };
    if (!this._canLoad(iso)) {
      return { text: "This file shows the visits due on " + only + " only.", press: "Show " + only, act: () => toDay(this.on) };
    }
    if (failed) {
      return { text: "The visits due on " + day + " could not be loaded. " + failed.message, press: "Try again", act: () => this.load(iso) };
    }
    return { text: "Loading the visits due on " + day + "\u2026" };
  }
}
