// The walk of a day as this phone holds it: its boxes in order, what is recorded of each, which comes next.
import { stopsOf } from "/static/rounds/stops.js";
import { visitIn } from "./store.js";
import { inWords, localMoment } from "./visit.js";

/** @typedef {import("./store.js").Item} Item */
/** @typedef {import("./visit.js").Box} Box */
/** @typedef {{ key: string, date: string, box: string, reason: string }} Skip */
/** Texts of JSON as the server sent them. @typedef {{ day: string, walker: string, round: string | null }} Fetched */

export class Walk {
  /** @param {Fetched & { query: string }} fetched with the query of the page's address */
  constructor({ day, walker, round, query }) {
    /** @type {import("./visit.js").Day} */
    this.day = JSON.parse(day);
    /** @type {{ name: string, fixed_on: string | null }} */
    this.walker = JSON.parse(walker);
    /** @type {import("/static/js/types").Round | null} */
    this.round = round ? JSON.parse(round) : null;
    this.stops = this.round ? stopsOf(this.round) : [];
    this.boxes = new Map(this.day.boxes.map((box) => [box.box, box]));
    // A link names its boxes in their order: they are known before the round with its ways is there.
    const linked = new URLSearchParams(query).get("boxes")?.split(",") ?? this.day.boxes.filter((box) => box.due).map((box) => box.box);
    /** Ids of the boxes of the walk. */
    this.order = (this.round ? this.stops.flatMap(({ boxes }) => boxes) : linked).filter((box) => this.boxes.has(box));
    /** @type {Map<string, Item>} */
    this.own = new Map();
    /** @type {Map<string, string>} */
    this.skips = new Map();
  }

  /** Day and time now, where the trail is; the day of a server that shows a fixed one. */
  today() {
    const now = localMoment(new Date(), this.day.timezone);
    return this.walker.fixed_on ? { ...now, date: this.walker.fixed_on } : now;
  }

  /** Take over what this phone recorded and skipped today. @param {Item[]} items in their order @param {Skip[]} skipped */
  mark(items, skipped) {
    const { date } = this.today();
    this.own = new Map(items.filter((item) => item.date === date).map((item) => [item.box, item]));
    this.skips = new Map(skipped.filter((skip) => skip.date === date).map(({ box, reason }) => [box, reason]));
  }

  /** The newest row that this phone made for a box today, whether sent or not. @param {string} box */
  recorded(box) {
    const own = this.own.get(box);
    return own && !visitIn(own).withdraws ? own : undefined;
  }

  /** @param {string} box @returns {{ kind: "saved" | "skipped" | "open", text: string }} */
  stateOf(box) {
    const own = this.recorded(box), skip = this.skips.get(box);
    if (own) return { kind: "saved", text: inWords(visitIn(own)) };
    return skip ? { kind: "skipped", text: skip } : { kind: "open", text: "" };
  }

  /** @param {string} box */
  isOpen(box) { return !this.recorded(box) && !this.skips.has(box); }

  /** The next box of the order that is open, after one and then from the start. @param {string} after @returns {string | null} */
  next(after) {
    const at = this.order.indexOf(after) + 1;
    return [...this.order.slice(at), ...this.order.slice(0, at)].find((box) => box !== after && this.isOpen(box)) ?? null;
  }
}
