// What to ask about a visit before it is saved; the same as layers/nesting/questions/rules.py, and
// held against the same table of cases. A question refuses nothing: what it asks about can be true.
import { capitalise, countOf, daysBetween, formatCount, formatDay, hasYoung, isKeptWarm, known, Look, nestBefore, noEggs, onDay, wasEmptied } from "./look.js";

/** @typedef {import("./look.js").Row} Row */
/** @typedef {{ kind: string, text: string, reading: string }} Question */

// Error of an age as it is judged, and fewest days from the loss of a nest to the next first egg: as in Python.
const AGE_ERROR_DAYS = 3, RELAY_DAYS = 5;
const NO_CONTENT = ["visit_id", "box", "seen_on", "seen_at", "observer", "opened", "entered_at", "replaces", "withdraws", "confirmed", "own_columns"];

/** @param {number} count @param {string} one @param {string} many */
const counted = (count, one, many) => capitalise(formatCount(count, one, many));
/** @param {any} name */
const folded = (name) => String(name || "").toLowerCase().split(/\s+/).filter(Boolean).join(" ");

/** @param {Row} visit */
function youngWords(visit) {
  const words = known(visit.young) ? formatCount(visit.young, "young", "young") : "young";
  return known(visit.young_days) ? words + " of " + visit.young_days + " days" : words;
}

/** @param {Look} look @returns {Generator<Question>} */
function* ofTheRecord({ visit, box, sameDay, figures }) {
  if (!known(visit.opened) && !Object.entries(visit).some(([name, cell]) => !NO_CONTENT.includes(name) && known(cell) && cell !== "")) {
    yield { kind: "blank", text: "Nothing is recorded of the box. If it was empty, choose nest: none.", reading: "A blank visit counts as not looked in: the box stays due, and an empty one is not known to be empty." };
  }
  for (const other of sameDay) {
    if (folded(visit.observer) && folded(other.observer) && folded(visit.observer) !== folded(other.observer)) {
      yield { kind: "same day", text: other.observer + " recorded a visit to this box on the same day. Was it visited twice, or is this the same visit?", reading: "Two visits are read one after the other; of one visit entered twice the second should be left out." };
    }
  }
  const early = box.installed_on && visit.seen_on < box.installed_on, late = box.removed_on && visit.seen_on >= box.removed_on;
  if (early || late) {
    const day = early ? box.installed_on : box.removed_on;
    yield { kind: "no box there", text: "The box was " + (early ? "put up" : "taken down") + " on " + formatDay(day) + " " + day.slice(0, 4) + ", by its own record. Is the day of the visit right?", reading: "The day decides which season the visit belongs to." };
  }
  const round = [undefined, null, "", "round"].includes(box.hole_shape);
  if (visit.species && box.hole_mm && figures.least_hole_mm && round && box.hole_mm < figures.least_hole_mm) {
    yield { kind: "small hole", text: capitalise(figures.a_bird) + " does not pass a round hole of " + box.hole_mm + " mm; by the guide it needs " + figures.least_hole_mm + " mm. Is it the species, and is the hole as it was?", reading: "The species sets all periods of the nest and the days on which the box stays closed." };
  }
  for (const column of ["eggs", "young"]) {
    const count = countOf(visit, column);
    if (count > figures.eggs_most) {
      yield { kind: "many " + column, text: counted(count, column, column) + ": " + figures.a_bird + " lays " + figures.clutch.join(" to ") + " as a rule." + (count % 10 === 0 ? " Is it " + count / 10 + "?" : ""), reading: "So many are read as laid by several females, or as a slip of the pen." };
    }
  }
  if (visit.eggs_warm === "yes" && visit.eggs === 0) {
    yield { kind: "warm without eggs", text: "The eggs are recorded as warm, and as none.", reading: "No eggs end the nest or set its first egg later; warm eggs show that it lives." };
  }
}

/** @param {Look} look @returns {Generator<Question>} */
function* ofTheAge(look) {
  const { visit, figures } = look, age = visit.young_days;
  if (!known(age)) return;
  const reading = "The age sets the day of hatching, and with it the days on which the box stays closed.";
  if (visit.young === 0 && !countOf(visit, "dead_young")) {
    yield { kind: "age without young", text: "An age of " + formatCount(age, "day", "days") + " is recorded, but no living young.", reading: "Young set the day of hatching; none end the nest." };
    return;
  }
  if (age > figures.nestling_most + AGE_ERROR_DAYS) {
    yield { kind: "age", text: counted(age, "day", "days") + " old: young of " + figures.name + " leave at " + figures.nestling_least + " to " + figures.nestling_most + " days." + (age % 10 === 0 ? " Is it " + age / 10 + "?" : ""), reading };
  }
  let low = -Infinity, high = Infinity, least = "", most = "";
  const judged = (/** @type {number} */ day, /** @type {number} */ fits, /** @type {string} */ words) => "Judged " + age + " days old " + onDay(visit) + ", " + day + " days " + words + ": " + fits + " would fit.";
  const within = (/** @type {number} */ from, /** @type {number} */ to, /** @type {string} */ words) => {
    if (from > low) [low, least] = [from, words];
    if (to < high) [high, most] = [to, words];
  };
  for (const one of [...look.nest, ...look.following]) {
    const days = look.daysSince(one), then = one.young_days;
    // Such an age no young of the nest can have: the other visit is of another nest.
    if (days + Number(then || 0) > figures.nestling_most + AGE_ERROR_DAYS) continue;
    if (hasYoung(one) && known(then)) {
      within(then + days - AGE_ERROR_DAYS, then + days + AGE_ERROR_DAYS, judged(Math.abs(days), then + days, (days > 0 ? "after" : "before") + " they were judged " + then));
    } else if (hasYoung(one) && days > 0) {
      within(days - AGE_ERROR_DAYS, Infinity, judged(days, days, "after young were first seen, so at least that"));
    } else if (one.young === 0 && countOf(one, "eggs") > 0 && days > 0) {
      within(-Infinity, days + AGE_ERROR_DAYS, judged(days, days, "after there were eggs alone, so at most that"));
    }
  }
  if (age < low || age > high) yield { kind: "age", text: age < low ? least : most, reading };
}

/** The greatest age that young could have had at a visit. @param {Look} look @param {Row} last */
function oldest(look, last) {
  if (known(last.young_days)) return last.young_days;
  const before = look.nest.filter((one) => one.young === 0 && one.seen_on < last.seen_on);
  return before.length ? daysBetween(before[before.length - 1], last) : Infinity;
}

/** @param {Look} look @returns {Generator<Question>} */
function* ofTheEggs(look) {
  const { visit, figures, nest, empty } = look, eggs = countOf(visit, "eggs"), withYoung = nest.filter(hasYoung);
  if (eggs && !hasYoung(visit) && withYoung.length) {
    const unhatched = Math.max(...withYoung.map((one) => countOf(one, "eggs"))), last = withYoung[withYoung.length - 1];
    const days = look.daysSince(last), laying = (eggs - 1) * figures.lay_days;
    const leftFirst = oldest(look, last) + days - laying >= figures.nestling_least;
    if (eggs > unhatched && !leftFirst && days - laying < RELAY_DAYS) {
      yield { kind: "eggs after young", text: counted(eggs, "egg", "eggs") + " and no young " + onDay(visit) + ", " + formatCount(days, "day", "days") + " after " + youngWords(last) + ": too soon for young to leave and for a new clutch.", reading: "Eggs would end the brood and begin another nest; young keep the box closed." };
    }
  }
  /** @type {[Row | null, Row | null | undefined][]} */
  const pairs = [[nest.findLast((one) => known(one.eggs)) ?? empty, visit]];
  if (!wasEmptied(visit)) pairs.push([visit, look.later.find((one) => known(one.eggs))]);
  for (const [first, second] of pairs) {
    if (!first || !second || hasYoung(second) || (hasYoung(first) && !wasEmptied(first))) continue;
    const had = wasEmptied(first) ? 0 : countOf(first, "eggs"), has = countOf(second, "eggs"), days = daysBetween(first, second);
    if ((known(first.eggs) || noEggs(first) || wasEmptied(first)) && second.eggs && has - had > days / figures.lay_days + 1) {
      yield { kind: "laid too fast", text: counted(has, "egg", "eggs") + " " + onDay(second) + ", " + formatCount(days, "day", "days") + " after " + formatCount(had, "egg", "eggs") + ": faster than one bird lays.", reading: "So fast a clutch is read as laid by several females, or one of the counts as a slip; it moves the first egg." };
    }
  }
  if (empty && !wasEmptied(empty) && !nest.length && eggs && !hasYoung(visit)) {
    const last = nestBefore(empty, look.earlier.filter((one) => one.seen_on < empty.seen_on))[0].at(-1);
    if (last && !hasYoung(last) && isKeptWarm(last) && isKeptWarm(visit) && countOf(last, "eggs") === eggs && look.daysSince(empty) < eggs * figures.lay_days + RELAY_DAYS) {
      yield { kind: "same eggs again", text: counted(eggs, "warm egg", "warm eggs") + " " + onDay(last) + ", none " + onDay(empty) + ", and as many warm again " + onDay(visit) + ". Was the visit between to this box?", reading: "With the empty visit, a nest was lost and another laid; without it, it is one nest." };
    }
  }
}

/** @param {Look} look @returns {Generator<Question>} */
function* ofTheYoung(look) {
  const { visit, figures, nest, empty } = look, young = countOf(visit, "young");
  if (hasYoung(visit) && empty && !figures.leaves_at_once) {
    const days = look.daysSince(empty), laying = (Math.max(young, 1) - 1) * figures.lay_days;
    if (days < 1 + laying + figures.incubation_least - figures.early_days) {
      yield { kind: "hatched too soon", text: capitalise(youngWords(visit)) + " " + onDay(visit) + ", " + days + " days after " + (wasEmptied(empty) ? "the nest was taken out" : "there were no eggs") + ": eggs take " + figures.incubation_least + " days and more to hatch.", reading: "Without the empty visit it is one nest, hatched earlier; the days on which the box stays closed move with it." };
    }
  }
  const last = nest.findLast((one) => known(one.eggs));
  if (young && last && !figures.leaves_at_once) {
    const had = countOf(last, "eggs") + countOf(last, "young");
    // An egg laid after that count has not hatched yet.
    const allLaid = hasYoung(last) || look.daysSince(last) < figures.lay_days + figures.incubation_least - figures.early_days;
    if (allLaid && young > had) {
      yield { kind: "more young", text: counted(young, "young", "young") + " " + onDay(visit) + ", after " + (hasYoung(last) ? youngWords(last) + " and " : "") + formatCount(countOf(last, "eggs"), "egg", "eggs") + " " + onDay(last) + ": more than could hatch.", reading: "One of the counts is a slip; the number hatched and fledged follows from it." };
    }
  }
  const before = nest.filter((one) => one.species).at(-1), alive = (/** @type {Row} */ one) => countOf(one, "eggs") > 0 || hasYoung(one);
  if (visit.species && before && before.species !== visit.species && alive(visit) && alive(before)) {
    yield { kind: "other species", text: capitalise(visit.species) + ", where " + onDay(before) + " " + before.species + " had " + (hasYoung(before) ? youngWords(before) : "eggs") + ". Did it take the box over?", reading: "Another species begins another nest with periods and closed days of its own." };
  }
}

/**
 * What to ask about a visit; nothing where it is plausible, or was confirmed.
 * @param {Row} box @param {Row} visit @param {Row[]} history @param {Record<string, import("./look.js").Figures>} figures
 * @returns {Question[]}
 */
export function questions(box, visit, history, figures) {
  const look = new Look(box, visit, history, figures), confirmed = String(visit.confirmed || "").split(";");
  /** @type {Map<string, Question>} */
  const found = new Map();
  for (const rule of [ofTheRecord, ofTheAge, ofTheEggs, ofTheYoung]) {
    for (const one of rule(look)) if (!confirmed.includes(one.kind) && !found.has(one.kind)) found.set(one.kind, one);
  }
  return [...found.values()];
}
