// The round in order with its map, and every other box of the trail.
import { make, makeButton, refill, whenIdle } from "/static/js/dom.js";
import { named } from "/static/web/base.js";
import { capitalise } from "./look.js";
import { OPEN } from "./visit.js";
import { formatDistance, towards } from "/static/js/way.js";

/** @typedef {import("./visit.js").Box} Box */
/** @typedef {import("./field.js").Field} Page */

/** Lines of a list that are drawn at a time: more than a phone shows. */
const AT_ONCE = 24;

/** Link to the view of a box. @param {string} box */
export const addressOf = (box) => "#box=" + encodeURIComponent(box);

/** @param {Page} page @param {Box} box @param {number | null} number */
function lineOf({ walk }, box, number) {
  const { kind, text } = walk.stateOf(box.box), marks = { saved: "✓ ", skipped: "skipped: ", open: box.approach === OPEN ? "" : "Do not open. " };
  return make("li", { className: "stop " + kind },
    make("a", { href: addressOf(box.box) },
      make("span", { className: "order" }, number === null ? "" : String(number)),
      make("span", { className: "what" }, make("b", {}, box.box), box.name ? " " + box.name : "",
        make("span", { className: "how" }, marks[kind] + (kind === "open" ? capitalise(box.expected) : text)))));
}

/** Lines in a list: those in view at once, the others when there is time. @param {HTMLElement} list @param {(() => HTMLElement)[]} lines @param {number} count */
function fillInSteps(list, lines, count) {
  list.append(...lines.slice(0, count).map((line) => line()));
  if (lines.length > count) whenIdle(() => list.isConnected && fillInSteps(list, lines.slice(count), AT_ONCE));
}

/** @param {Page} page @param {HTMLElement} place */
export function showList(page, place) {
  const { walk } = page, order = walk.order.map((id) => /** @type {Box} */ (walk.boxes.get(id)));
  const done = walk.order.filter((id) => !walk.isOpen(id)).length, next = walk.next("");
  const others = walk.day.boxes.filter((box) => !walk.order.includes(box.box));
  const rest = make("ul", { className: "stops" });
  const more = make("details", {}, make("summary", {}, others.length === 1 ? "1 other box" : others.length + " other boxes"), rest);
  more.addEventListener("toggle", () => {
    refill(rest);
    const ids = new Intl.Collator(undefined, { numeric: true });
    if (more.open) fillInSteps(rest, others.sort((one, other) => ids.compare(one.box, other.box)).map((box) => () => lineOf(page, box, null)), AT_ONCE);
  });
  // As many as were there, so that a page scrolled down stays where it is.
  const drawn = place.querySelectorAll("ol > .stop").length;
  const list = make("ol", { className: "stops" }), home = walk.round?.walks.find((one) => one.home)?.home;
  refill(place,
    make("p", { className: "count" }, order.length ? done + " of " + order.length + " boxes done." : "Nothing is due today."),
    !next && home ? make("p", { className: "home" }, "Back to " + walk.round?.to + ": " + legInWords(walk, home)) : null,
    next ? make("a", { className: "button go", href: addressOf(next) }, (done ? "Go on: " : "Start: ") + next) : null,
    page.mapPlace, page.picturesPlace, positionLine(page.position), list,
    others.length ? more : null,
    make("details", {}, make("summary", {}, "Take care"), make("ul", {}, ...walk.day.cautions.map((text) => make("li", {}, text)))),
    make("p", { className: "line" }, walk.round ? make("a", { className: "alone", href: "#walkers" }, "Walkers of this round") : null,
      make("a", { className: "alone", href: "#twice" }, "Same day, different counts")),
    walk.walker.name ? null : nameField(page.observer));
  fillInSteps(list, order.map((box, i) => () => lineOf(page, box, i + 1)), Math.max(AT_ONCE, drawn));
}

/** @param {string} observer */
function nameField(observer) {
  const input = make("input", { id: "observer", autocomplete: "name", maxLength: 200, value: observer });
  input.addEventListener("change", () => localStorage.setItem(named("boxround observer"), input.value.trim()));
  return make("div", { className: "field" }, make("label", { for: "observer" }, "Your name, for every visit"), input);
}

/** @param {import("/static/js/way.js").Position} position */
export const positionLine = (position) => make("div", { className: "line position" },
  makeButton(position.following ? "Stop following" : "Follow my position", {}, () => position.following ? position.stop() : position.follow()),
  position.message ? make("span", { role: "status" }, position.message) : null);

/** A leg of the round in words. @param {import("./walk.js").Walk} walk @param {import("/static/js/types").Leg} leg */
const legInWords = ({ day }, leg) => formatDistance(leg.leg_m, day.units) + " " + leg.compass + ", " + Math.max(1, Math.round(leg.leg_minutes)) + " min. " + capitalise(leg.instruction) + ".";

/** How far a box is and which way, from the own position or from the box before. @param {Page} page @param {Box} box */
export function wayTo({ walk, position, last }, box) {
  if (box.lat === null || box.lon === null) return "";
  const at = walk.stops.findIndex((one) => one.boxes.includes(box.box)), before = walk.boxes.get(last);
  const inOrder = at === 0 ? !before : at > 0 && before && walk.stops[at - 1].boxes.includes(before.box);
  if (inOrder && !position.here) return legInWords(walk, walk.stops[at]);
  const here = position.here || (before && before.lat !== null && before.lon !== null && before !== box ? { lat: before.lat, lon: before.lon } : null);
  if (!here) return "";
  const { metres, word } = towards(here, { lat: box.lat, lon: box.lon });
  return formatDistance(metres, walk.day.units) + " " + word + " of " + (position.here ? "here" : before?.box);
}
