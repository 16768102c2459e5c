// The seasons of a trail, each loaded when it is first shown, and what every box is on any of its days.
import { dayNumber } from "./days.js";
import { load, unpack } from "./packed.js";

/** @typedef {import("./types").PackedSeason} PackedSeason */

// A gap of so many days carries on to the next one and is no entry itself (payload.py).
const CARRY = 255;

export class Season {
  /** @param {PackedSeason} packed */
  constructor(packed) {
    this.packed = packed;
    this.days = packed.header.days;
    this.first = dayNumber(packed.header.first_day);
    this.boxes = packed.changes.length;
    /** @type {[number, number] | null} */
    this.shown = null;
  }

  /**
   * Every entry of every box in its order: the box, the entry's place in the columns, its day.
   * @param {Uint16Array} entries how many each box has @param {Uint8Array} gaps @param {(i: number, at: number, on: number) => void} each
   */
  walk(entries, gaps, each) {
    for (let i = 0, at = 0; i < this.boxes; i++) {
      for (let end = at + entries[i], on = 0; at < end; at++) {
        on += gaps[at];
        if (gaps[at] < CARRY) each(i, at, on);
      }
    }
  }

  /** Every change, with the position of the new state in the columns of states. @param {(i: number, state: number, on: number) => void} each */
  walkChanges(each) {
    const { changes, gap, state } = this.packed;
    this.walk(changes, gap, (i, at, on) => each(i, state[at], on));
  }

  /** @param {(i: number, on: number) => void} each */
  walkVisits(each) { this.walk(this.packed.visits, this.packed.visit_gap, (i, _, on) => each(i, on)); }

  /** @param {string} column @param {number} day */
  codes(column, day) {
    const codes = new Uint8Array(this.boxes), values = this.column(column);
    this.walkChanges((i, state, on) => { if (on <= day) codes[i] = values[state]; });
    return codes;
  }

  /** Of each distinct state. @param {string} name @returns {Uint8Array} */
  column(name) { return this.packed[/** @type {"occupancy" | "species" | "fate"} */ (name)]; }

  /** @param {number} day */
  daysSinceVisit(day) {
    const since = new Int16Array(this.boxes).fill(-1);
    this.walkVisits((i, on) => { if (on <= day) since[i] = day - on; });
    return since;
  }

  /**
   * How many boxes of each class there are on each day: counts[class][day].
   * @param {import("./types").Theme} theme @param {Uint8Array} leftOut
   */
  counts(theme, leftOut) {
    const codes = this.column(theme.column), counts = theme.symbols.map(() => new Int32Array(this.days));
    let box = -1, before = 0;
    this.walkChanges((i, state, on) => {
      if (leftOut[i]) return;
      if (i === box) counts[before][on]--;
      box = i;
      before = theme.class_of[codes[state]];
      counts[before][on]++;
    });
    for (const own of counts) for (let d = 1; d < this.days; d++) own[d] += own[d - 1];
    return counts;
  }

  /** The days worth showing: from shortly before the first visit to some weeks after the last. */
  window() {
    if (!this.shown) {
      let lo = this.days, hi = 0;
      this.walkVisits((_, on) => { if (on < lo) lo = on; if (on > hi) hi = on; });
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
