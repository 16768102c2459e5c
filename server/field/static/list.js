// The round in order with its map, and every other box of the trail.
import { make, refill } from "/static/js/dom.js";
import { formatDistance, towards } from "./way.js";

/** @typedef {import("./visit.js").Box} Box */
/** @typedef {import("./field.js").Field} Page */

/** Link to the view of a box. @param {string} box */
export const addressOf = (box) => "#box=" + encodeURIComponent(box);

/** @param {Page} page @param {Box} box @param {number | null} number */
function lineOf(page, box, number) {
  const state = page.stateOf(box.box);
  const marks = { saved: "✓ ", skipped: "skipped: ", open: "" };
  return make("li", { className: "stop " + state.kind },
    make("a", { href: addressOf(box.box) },
      make("span", { className: "order" }, number === null ? "" : String(number)),
      make("span", { className: "what" },
        make("b", {}, box.box), box.name ? " " + box.name : "",
        make("span", { className: "how" }, state.kind === "open" ? (box.approach === "open" ? "" : "Do not open. ") + box.expected : marks[state.kind] + state.text))));
}

/** @param {Page} page @param {HTMLElement} place */
export function showList(page, place) {
  const order = page.order.map((id) => page.box(id)).filter((box) => box !== undefined);
  const done = order.filter((box) => page.stateOf(box.box).kind !== "open").length;
  const others = page.day.boxes.filter((box) => !page.order.includes(box.box)).sort((one, other) => one.box.localeCompare(other.box, undefined, { numeric: true }));
  const rest = make("ul", { className: "stops" });
  const more = make("details", {}, make("summary", {}, (others.length === 1 ? "1 other box" : others.length + " other boxes")), rest);
  more.addEventListener("toggle", () => { if (more.open) refill(rest, ...others.map((box) => lineOf(page, box, null))); });
  const next = page.next(""), home = page.round?.walks.find((/** @type {import("/static/js/types").Walk} */ walk) => walk.home)?.home;
  refill(place,
    make("p", { className: "count" }, order.length ? done + " of " + order.length + " boxes done." : "Nothing is due today."),
    !next && home ? make("p", { className: "home" }, "Back to " + page.round.to + ": " + legInWords(page, home)) : null,
    next ? make("a", { className: "button go", href: addressOf(next) }, (done ? "Go on: " : "Start: ") + next) : null,
    page.mapPlace, positionLine(page),
    make("ol", { className: "stops" }, ...order.map((box, i) => lineOf(page, box, i + 1))),
    others.length ? more : null,
    make("details", {}, make("summary", {}, "Take care"), make("ul", {}, ...page.day.cautions.map((text) => make("li", {}, text)))),
    make("p", { className: "line" }, page.round ? make("a", { className: "alone", href: "#walkers" }, "Walkers of this round") : null,
      make("a", { className: "alone", href: "#twice" }, "Same day, different counts")),
    page.nameField());
}

/** @param {Page} page */
function positionLine(page) {
  const { position } = page;
  const button = make("button", { type: "button" }, position.following ? "Stop following" : "Follow my position");
  button.addEventListener("click", () => position.following ? position.stop() : position.follow());
  return make("div", { className: "line" }, button, position.message ? make("span", { role: "status" }, position.message) : null);
}

/** A leg of the round in words. @param {Page} page @param {import("/static/js/types").Leg} leg */
const legInWords = (page, leg) => formatDistance(leg.leg_m, page.day.units) + " " + leg.compass + ", " + Math.max(1, Math.round(leg.leg_minutes)) + " min. " + leg.instruction + ".";

/** How far a box is and which way, from the own position or from the box before. @param {Page} page @param {Box} box @param {Box | undefined} before */
export function wayTo(page, box, before) {
  if (box.lat === null || box.lon === null) return "";
  const at = page.stops.findIndex((one) => one.boxes.includes(box.box));
  const inOrder = at === 0 ? !before : at > 0 && before && page.stops[at - 1].boxes.includes(before.box);
  if (inOrder && !page.position.here) return legInWords(page, page.stops[at]);
  const here = page.position.here || (before && before.lat !== null && before.lon !== null && before.box !== box.box ? { lat: before.lat, lon: before.lon } : null);
  if (!here) return "";
  const { metres, word } = towards(here, { lat: box.lat, lon: box.lon });
  return formatDistance(metres, page.day.units) + " " + word + " of " + (page.position.here ? "here" : before?.box);
}
