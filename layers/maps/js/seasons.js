// The seasons of a trail, each loaded when it is first shown, and what every box is on any of its days.
import { dayNumber } from "./days.js";
import { load, unpack } from "./packed.js";

/** @typedef {import("./types").PackedSeason} PackedSeason */

export class Season {
  /** @param {PackedSeason} packed */
  constructor(packed) {
    this.packed = packed;
    this.days = packed.header.days;
    this.first = dayNumber(packed.header.first_day);
    this.boxes = packed.offset.length - 1;
    /** @type {[number, number] | null} */
    this.shown = null;
  }

  /**
   * For each box the position of its last entry up to a day, -1 where there is none.
   * @param {Int32Array} offset @param {Int16Array} days @param {number} day
   */
  latest(offset, days, day) {
    const found = new Int32Array(this.boxes);
    for (let i = 0; i < this.boxes; i++) {
      let lo = offset[i], hi = offset[i + 1];
      while (lo < hi) {
        const middle = (lo + hi) >> 1;
        if (days[middle] <= day) lo = middle + 1; else hi = middle;
      }
      found[i] = lo > offset[i] ? lo - 1 : -1;
    }
    return found;
  }

  /** @param {string} column @param {number} day */
  codes(column, day) {
    const at = this.latest(this.packed.offset, this.packed.day, day), codes = new Uint8Array(this.boxes);
    const values = this.column(column);
    for (let i = 0; i < this.boxes; i++) codes[i] = values[at[i]];
    return codes;
  }

  /** @param {string} name @returns {Uint8Array} */
  column(name) { return this.packed[/** @type {"occupancy" | "species" | "fate"} */ (name)]; }

  /** @param {number} day */
  daysSinceVisit(day) {
    const at = this.latest(this.packed.visit_offset, this.packed.visit_day, day);
    return Int32Array.from(at, (position) => (position < 0 ? -1 : day - this.packed.visit_day[position]));
  }

  /**
   * How many boxes of each class there are on each day: counts[class][day].
   * @param {import("./types").Theme} theme @param {Uint8Array} leftOut
   */
  counts(theme, leftOut) {
    const { offset, day } = this.packed, codes = this.column(theme.column);
    const counts = theme.symbols.map(() => new Int32Array(this.days + 1));
    for (let i = 0; i < this.boxes; i++) {
      if (leftOut[i]) continue;
      for (let at = offset[i]; at < offset[i + 1]; at++) {
        const own = counts[theme.class_of[codes[at]]];
        own[day[at]]++;
        own[at + 1 < offset[i + 1] ? day[at + 1] : this.days]--;
      }
    }
    for (const own of counts) for (let d = 1; d <= this.days; d++) own[d] += own[d - 1];
    return counts;
  }

  /** The days worth showing: from shortly before the first visit to some weeks after the last. */
  window() {
    if (!this.shown) {
      let lo = this.days, hi = 0;
      for (const day of this.packed.visit_day) { if (day < lo) lo = day; if (day > hi) hi = day; }
      this.shown = lo > hi ? [0, this.days - 1] : [Math.max(0, lo - 7), Math.min(this.days - 1, hi + 14)];
    }
    return this.shown;
  }
}

export class Seasons {
  /** @param {string} source holds {season} @param {number[]} known years that have one, first to last */
  constructor(source, known) {
    this.source = source;
    this.known = known;
    /** @type {Map<number, Promise<Season>>} */
    this.loaded = new Map();
  }

  /** The season of a year; one that failed is loaded anew. @param {number} year @returns {Promise<Season>} */
  of(year) {
    const loaded = this.loaded.get(year);
    if (loaded) return loaded;
    const loading = load(this.source.replace("{season}", String(year))).then((packed) => new Season(unpack(packed)));
    loading.catch(() => this.loaded.delete(year));
    this.loaded.set(year, loading);
    return loading;
  }

  /**
   * The season that a day (from 1970-01-01) belongs to, the nearest one where it has none.
   * @param {number} number @param {number} guess where to begin
   */
  async holding(number, guess) {
    const known = this.known;
    let year = Math.max(known[0], Math.min(known[known.length - 1], guess)), season = await this.of(year);
    while (number < season.first && known.includes(year - 1)) season = await this.of(--year);
    while (number >= season.first + season.days && known.includes(year + 1)) season = await this.of(++year);
    return { season, year };
  }
}
