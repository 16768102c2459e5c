// Which species a nest may belong to, worked out on the phone; the same as layers/nesting/key/identifying.py,
// with the chances and the limits that the server sends, and held against the same table of cases.
import { formatCount } from "./look.js";

/** @typedef {"materials" | "form" | "adult" | "ground" | "marks"} Worded */
/** @typedef {Record<Worded, number[]> & { name: string, alike: string, least_hole_mm: number | null, nests: number, nest: string | null, egg: string | null, eggs: number[], length: number[], drawing: string }} Species */
/** @typedef {{ words: Record<Worded, string[]>, looks: Record<string, string>, limits: Record<"sure" | "sure_of_group" | "least_traits" | "listed" | "fits" | "odd" | "least_gain_bits" | "brief" | "least_length_mm", number>, species: Species[] }} Key */
/** @typedef {{ materials?: string[], form?: string, adult?: string, ground?: string, marks?: string, eggs?: number, length?: number, hole_mm?: number | null }} Seen */
/** @typedef {{ species: Species, chance: number, reasons: string[] }} Candidate */
/** @typedef {{ species: string | null, either: string[], candidates: Candidate[], look_next: string[], said: string }} Answer */
/** @typedef {{ words: string, chance: (one: Species) => number, least: number }} Trait */

/** @param {number[]} numbers */
const sum = (numbers) => numbers.reduce((total, one) => total + one, 0);
/** @param {number[]} numbers */
const product = (numbers) => numbers.reduce((total, one) => total * one, 1);
/** @param {number} chance */
export const percent = (chance) => Math.round(chance * 100) + "%";

/** The chance that just these materials are noted: all that is seen, or what strikes most. @param {Key} key @param {Species} one @param {string[]} seen */
function materialsChance({ words, limits }, one, seen) {
  const listed = (1 - limits.brief) * product(one.materials.map((chance, i) => seen.includes(words.materials[i]) ? chance : 1 - chance));
  return seen.length === 1 ? listed + limits.brief * one.materials[words.materials.indexOf(seen[0])] / sum(one.materials) : listed;
}

/** What was seen of the nest and its eggs. @param {Key} key @param {Seen} seen @returns {Trait[]} */
function traitsOf(key, { materials = [], eggs = 0, length = 0, ...seen }) {
  const { words, limits } = key, found = /** @type {Trait[]} */ ([]);
  if (materials.length) found.push({ words: "nest of " + materials.join(", "), chance: (one) => materialsChance(key, one, materials), least: 0 });
  for (const [name, say] of /** @type {[("form" | "ground" | "marks"), (word: string) => string][]} */ ([["form", (word) => "nest: " + word], ["ground", (word) => word + " eggs"], ["marks", (word) => word + " eggs"]])) {
    const word = seen[name];
    if (word) found.push({ words: say(word), chance: (one) => one[name][words[name].indexOf(word)], least: limits.fits });
  }
  if (eggs) found.push({ words: formatCount(eggs, "egg", "eggs"), chance: (one) => one.eggs[Math.min(eggs, one.eggs.length) - 1], least: limits.odd });
  if (length) {
    const at = (/** @type {Species} */ one) => Math.min(Math.max(Math.round(length) - limits.least_length_mm, 0), one.length.length - 1);
    found.push({ words: "eggs " + length + " mm long", chance: (one) => one.length[at(one)], least: limits.odd });
  }
  return found;
}

/** @param {Key} key @param {Species} one @param {string | undefined} adult */
const adultChance = (key, one, adult) => adult ? one.adult[key.words.adult.indexOf(adult)] : 1;

/** The chance of each species that may be here, the best first. @param {Key} key @param {Seen} seen @param {Trait[]} traits @returns {{ one: Species, chance: number }[]} */
function ranked(key, seen, traits) {
  const here = key.species.filter((one) => !seen.hole_mm || one.least_hole_mm === null || one.least_hole_mm <= seen.hole_mm);
  const looks = new Map(here.map((one) => [one, product(traits.map(({ chance }) => chance(one)))]));
  const weights = here.map((one) => {
    // Species that look alike share what their descriptions give.
    const shared = here.filter((other) => other.alike === one.alike).map((other) => looks.get(other) ?? 0);
    return { one, chance: (1 + one.nests) * adultChance(key, one, seen.adult) * sum(shared) / shared.length };
  });
  const total = sum(weights.map(({ chance }) => chance));
  return weights.map(({ one, chance }) => ({ one, chance: total ? chance / total : 0 })).filter(() => total > 0)
    .sort((first, second) => second.chance - first.chance || (first.one.name < second.one.name ? -1 : 1));
}

/** @param {Key} key @param {Species} one @param {Seen} seen @param {Trait[]} traits */
function reasonsOf(key, one, seen, traits) {
  const { words, limits } = key, fits = /** @type {string[]} */ ([]), odd = /** @type {string[]} */ ([]);
  for (const material of seen.materials ?? []) {
    const chance = one.materials[words.materials.indexOf(material)];
    if (chance >= limits.fits) fits.push("nest of " + material); else if (chance < limits.odd) odd.push("nest of " + material);
  }
  for (const trait of traits.filter(({ least }) => least)) {
    if (trait.chance(one) >= trait.least) fits.push(trait.words); else if (trait.chance(one) < trait.least / 5) odd.push(trait.words);
  }
  if (seen.adult) (adultChance(key, one, seen.adult) > 0.5 ? fits : odd).push("bird: " + seen.adult);
  return [
    fits.length ? "fits: " + fits.join(", ") : "", odd.length ? "does not fit: " + odd.join(", ") : "",
    one.nests ? formatCount(one.nests, "nest", "nests") + " begun here at this time of the year" : "",
    one.nest ? "guide, nest: " + one.nest : "", one.egg ? "guide, eggs: " + one.egg : "",
  ].filter(Boolean);
}

/** @param {number[]} chances */
const bits = (chances) => -sum(chances.filter((one) => one > 0).map((one) => one * Math.log2(one)));

/** How much a trait is expected to take from the uncertainty, in bits. @param {number[]} chances @param {number[][]} rows */
function gain(chances, rows) {
  const ofValue = rows[0].map((_, value) => sum(chances.map((chance, i) => chance * rows[i][value])));
  return bits(chances) - sum(ofValue.map((of, value) => of * bits(chances.map((chance, i) => chance * rows[i][value] / of))));
}

/** Traits not seen yet that would separate the likely species, the most useful first. @param {Key} key @param {Seen} seen @param {{ one: Species, chance: number }[]} likely */
function lookNext(key, seen, likely) {
  const total = sum(likely.map(({ chance }) => chance)), chances = likely.map(({ chance }) => chance / total);
  const shares = (/** @type {number[]} */ row) => row.map((chance) => chance / sum(row));
  return Object.keys(key.looks).filter((name) => !seen[/** @type {keyof Seen} */ (name)]?.toString())
    .map((name) => ({ name, bits: gain(chances, likely.map(({ one }) => shares(one[/** @type {Worded} */ (name)]))) }))
    .filter((one) => one.bits >= key.limits.least_gain_bits).sort((one, other) => other.bits - one.bits).map(({ name }) => key.looks[name]);
}

/** @param {Key} key @param {Seen} seen @returns {Answer} */
export function identify(key, seen) {
  const { limits } = key, traits = traitsOf(key, seen), order = ranked(key, seen, traits), known = traits.length + (seen.adult ? 1 : 0);
  if (!known || !order.length) {
    const why = order.length ? "nothing was seen that distinguishes species" : "none passes such a hole";
    return { species: null, either: [], candidates: [], look_next: Object.values(key.looks), said: "Not sure: " + why + "." };
  }
  const best = order[0], likely = order.filter(({ chance }) => chance >= Math.min(limits.listed, best.chance));
  const candidates = likely.map(({ one, chance }) => ({ species: one, chance, reasons: reasonsOf(key, one, seen, traits) }));
  const look_next = lookNext(key, seen, likely), enough = known >= limits.least_traits;
  if (best.chance >= limits.sure && enough) {
    return { species: best.one.name, either: [], candidates, look_next, said: "Most likely " + best.one.name + " (" + percent(best.chance) + ")." };
  }
  const group = likely.filter(({ one }) => one.alike === best.one.alike), together = sum(group.map(({ chance }) => chance));
  if (group.length > 1 && together >= limits.sure_of_group && enough) {
    const either = group.map(({ one }) => one.name);
    return { species: null, either, candidates, look_next, said: "Most likely " + either.join(" or ") + " (" + percent(together) + " together): nest and eggs do not distinguish them." };
  }
  return { species: null, either: [], candidates, look_next, said: "Not sure: it may be " + candidates.slice(0, 3).map(({ species }) => species.name).join(", ") + "." };
}
