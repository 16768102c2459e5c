// A visit beside the nest that it belongs to; the same as layers/nesting/questions/look.py.
import { MONTHS, dayNumber } from "/static/js/days.js";

/** @typedef {Record<string, any>} Row columns of a visit as stored; null or left out = not recorded */
/** @typedef {{ name: string, a_bird: string, clutch: [number, number], eggs_most: number, lay_days: number, incubation_least: number, early_days: number, nestling_least: number, nestling_most: number, leaves_at_once: boolean, least_hole_mm: number | null }} Figures */

// Two visits further apart are not of one nest.
const GAP_DAYS = 30;
const EMPTYING = ["cleaned", "nest removed"];
const NUMBERS = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

/** @param {any} value */
export const known = (value) => value !== null && value !== undefined;
/** @param {Row} visit @param {string} column a count; one that was not recorded is 0 */
export const countOf = (visit, column) => Number(visit[column] || 0);
/** @param {Row} visit */
export const hasYoung = (visit) => countOf(visit, "young") > 0 || (!known(visit.young) && known(visit.young_days));
/** @param {Row} visit */
export const noEggs = (visit) => visit.eggs === 0 || (!known(visit.eggs) && visit.nest === "none");
/** @param {Row} visit */
const noYoung = (visit) => !hasYoung(visit) && (visit.young === 0 || visit.nest === "none");
/** @param {Row} visit */
const isEmpty = (visit) => noEggs(visit) && noYoung(visit);
/** @param {Row} visit */
export const wasEmptied = (visit) => String(visit.actions || "").split(";").some((action) => EMPTYING.includes(action));
/** @param {Row} visit */
export const isKeptWarm = (visit) => visit.eggs_warm === "yes" || ["sitting", "flushed"].includes(visit.adult);
/** @param {Row} first @param {Row} second */
export const daysBetween = (first, second) => dayNumber(second.seen_on) - dayNumber(first.seen_on);
/** @param {string} day */
export const formatDay = (day) => Number(day.slice(8)) + " " + MONTHS[Number(day.slice(5, 7)) - 1];
/** @param {Row} visit */
export const onDay = (visit) => "on " + formatDay(visit.seen_on);
/** @param {string} text */
export const capitalise = (text) => text.slice(0, 1).toUpperCase() + text.slice(1);
/** @param {number} count @param {string} one @param {string} many */
export const formatCount = (count, one, many) => (NUMBERS[count] ?? count) + " " + (count === 1 ? one : many);

/** The visits to the same nest before a visit, and the one before these that found or left the box empty. @param {Row} visit @param {Row[]} earlier @returns {[Row[], Row | null]} */
export function nestBefore(visit, earlier) {
  /** @type {Row[]} */
  const nest = [];
  let after = visit;
  for (const one of [...earlier].reverse()) {
    if (daysBetween(one, after) > GAP_DAYS) return [nest.reverse(), null];
    if (isEmpty(one) || wasEmptied(one)) return [nest.reverse(), one];
    nest.push(one);
    after = one;
  }
  return [nest.reverse(), null];
}

/** @param {Row} one @param {Row} other */
const byDay = (one, other) => one.seen_on < other.seen_on ? -1 : one.seen_on > other.seen_on ? 1 : 0;

export class Look {
  /** @param {Row} box @param {Row} visit @param {Row[]} history @param {Record<string, Figures>} figures */
  constructor(box, visit, history, figures) {
    this.box = box;
    this.visit = visit;
    this.sameDay = history.filter((one) => one.seen_on === visit.seen_on);
    this.earlier = history.filter((one) => one.seen_on < visit.seen_on).sort(byDay);
    this.later = history.filter((one) => one.seen_on > visit.seen_on).sort(byDay);
    const [nest, empty] = nestBefore(visit, this.earlier);
    this.nest = nest;
    this.empty = empty;
    const name = visit.species || this.nest.findLast((one) => one.species)?.species || "";
    this.figures = figures[name] || figures[""];
  }

  /** Days from another visit to this one. @param {Row} other */
  daysSince(other) { return daysBetween(other, this.visit); }

  /** Later visits of the same nest. */
  get following() {
    const found = [];
    let before = this.visit;
    for (const one of this.later) {
      if (wasEmptied(before) || isEmpty(one) || daysBetween(before, one) > GAP_DAYS) break;
      found.push(one);
      before = one;
    }
    return found;
  }
}
