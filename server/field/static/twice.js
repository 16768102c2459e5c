// Visits to one box on one day whose counts differ: two looks, or is one wrong?
import { dayNumber, isoDay } from "/static/js/days.js";
import { make, makeButton, refill } from "/static/js/dom.js";
import { at } from "/static/web/base.js";
import { fetchJson } from "./fetching.js";
import { newId } from "./store.js";
import { asSent, byWhom, inWords, withdrawalOf } from "./visit.js";

/** @typedef {import("./field.js").Field} Page */
/** @typedef {Record<string, any>} Stored a visit as the trail holds it */

const KIND = "same day", DAYS = 60;

/** Whether the visits were confirmed as two. @param {Stored[]} group */
export const isAnswered = (group) => group.some((one) => (one.confirmed || "").split(";").includes(KIND));

/** Those of a box and day whose counts differ. @param {Stored[]} visits @returns {Stored[][]} */
export function differing(visits) {
  /** @type {Map<string, Stored[]>} */
  const groups = new Map();
  for (const one of visits) groups.set(one.box + " " + one.seen_on, [...(groups.get(one.box + " " + one.seen_on) ?? []), one]);
  const differ = (/** @type {Stored[]} */ group, /** @type {string} */ name) => new Set(group.map((one) => one[name]).filter((count) => count !== null)).size > 1;
  return [...groups.values()].filter((group) => group.length > 1 && (differ(group, "eggs") || differ(group, "young")));
}

/** @param {Page} page @param {HTMLElement} place */
export async function showTwice(page, place) {
  const since = isoDay(dayNumber(page.walk.day.on) - DAYS);
  /** @type {Stored[]} */
  const visits = [];
  try {
    for (let address = at("/api/visits?limit=1000&since=" + since); address;) {
      const body = await fetchJson(address);
      visits.push(...body.visits);
      address = body.next;
    }
  } catch {
    return refill(place, make("p", {}, "This list needs a connection."));
  }
  const groups = differing(visits), message = make("p", { className: "mark", role: "status" });
  const send = async (/** @type {Record<string, string>} */ visit) => {
    const answer = await fetch(at("/api/visits"), { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(visit) });
    if (answer.ok) return showTwice(page, place);
    message.textContent = (await answer.json().catch(() => null))?.detail || "The server answered " + answer.status;
  };
  const sectionOf = (/** @type {Stored[]} */ group) => make("section", {}, make("h2", {}, group[0].box + ", " + group[0].seen_on),
    ...group.map((one) => {
      const visit = asSent(one, page.walk.day.timezone);
      return make("div", { className: "line" }, make("span", {}, byWhom(visit) + ": " + inWords(visit)),
        makeButton("This one is wrong: withdraw it", {}, () => send(withdrawalOf(visit, newId()))));
    }),
    isAnswered(group) ? "" : makeButton("Two looks: both are right", {}, () => {
      const last = asSent(group[group.length - 1], page.walk.day.timezone);
      send({ ...last, visit_id: newId(), replaces: last.visit_id, confirmed: [last.confirmed, KIND].filter(Boolean).join(";") });
    }));
  const open = groups.filter((group) => !isAnswered(group)), answered = groups.filter(isAnswered);
  refill(place, make("p", {}, open.length ? "Two looks at different hours are both right; else withdraw the wrong one." : "Nothing is left to decide."), message,
    ...open.map(sectionOf),
    answered.length ? make("details", {}, make("summary", {}, answered.length + " confirmed as two looks"), ...answered.map(sectionOf)) : null);
}
