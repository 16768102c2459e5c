// The card of one box: its head and what the box is on the day shown, around the part that the server writes.
import { formatDay } from "./days.js";
import { make, makeButton, refill } from "./dom.js";
import { symbolPicture } from "./symbols.js";

/** @typedef {import("./types").State} State */

const MOST_VISITS = 6;

/** @param {State} state */
export function lastVisit({ since, overdue }) {
  const when = since < 0 ? "Not visited this season." : since === 0 ? "Visited on this day."
    : "Last visit " + (since === 1 ? "1 day" : since + " days") + " before.";
  return when + (overdue ? " \u26a0 Overdue for a visit." : "");
}

/**
 * Whether a part of a card holds on a day: from its first day until before the one it ends on.
 * @param {{ from?: string, to?: string, except?: string }} part @param {string} day
 */
export const holdsOn = ({ from, to, except }, day) => (!from || from <= day) && (!to || day < to) && except !== day;

/** Show the parts of a card that hold on a day. @param {HTMLElement} card @param {string} day */
function toDay(card, day) {
  for (const part of /** @type {NodeListOf<HTMLElement>} */ (card.querySelectorAll("[data-from], [data-to], [data-except]"))) {
    part.hidden = !holdsOn(part.dataset, day);
  }
  [...card.querySelectorAll(".visits > li:not([hidden])")].slice(MOST_VISITS).forEach((one) => one.setAttribute("hidden", ""));
  for (const line of /** @type {NodeListOf<SVGLineElement>} */ (card.querySelectorAll(".calendar .shown"))) {
    const { first, days } = line.dataset, at = (Date.parse(day) - Date.parse(String(first))) / 864e5;
    const x = ((at + 0.5) * 100) / Number(days) + "%";
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
    line.setAttribute("display", at >= 0 && at < Number(days) ? "inline" : "none");
  }
}

/** @param {HTMLElement} section @param {string} title @param {() => void} onClose @param {...(Node | string)} pieces */
function fill(section, title, onClose, ...pieces) {
  section.setAttribute("aria-labelledby", "card-title");
  refill(section, make("div", { className: "card-head" }, make("h2", { id: "card-title" }, title),
    makeButton("\u2715", { className: "close", "aria-label": "Close" }, onClose)), ...pieces);
  section.hidden = false;
}

// What an unfolding part is called within its card, and what a link or button is.
const nameOf = (/** @type {Element} */ details) => [details.closest(".nest")?.querySelector("h4"), details.querySelector("summary")]
  .map((one) => one?.textContent).join(": ");
const wordsOf = (/** @type {Element} */ one) => one.tagName + (one.matches("summary") ? nameOf(/** @type {Element} */ (one.parentElement)) : one.textContent);

/**
 * Fill `section` with the card of a box. Where it was that box's already, what was unfolded stays so and the
 * keyboard stays where it was.
 * @param {HTMLElement} section @param {string} box @param {string} html the server's part, escaped there
 * @param {State} state @param {() => void} onClose
 */
export function fillCard(section, box, html, state, onClose) {
  const same = section.querySelector("h2")?.textContent === "Box " + box;
  const folds = new Map(same ? Array.from(section.querySelectorAll("details"), (one) => [nameOf(one), one.open]) : []);
  const focus = document.activeElement, pressed = focus && focus !== section && section.contains(focus) ? wordsOf(focus) : null;
  const body = make("div", { className: "card-body" });
  body.innerHTML = html;
  refill(body.querySelector("[data-state]"),
    make("p", { className: "card-now" }, symbolPicture(state.symbol), make("strong", {}, state.symbol.word), make("span", {}, " on " + formatDay(state.on))),
    make("p", { className: state.overdue ? "overdue" : "" }, lastVisit(state)));
  toDay(body, state.on);
  fill(section, "Box " + box, onClose, body);
  for (const one of section.querySelectorAll("details")) one.open = folds.get(nameOf(one)) ?? one.open;
  if (pressed === null) return;
  const again = /** @type {HTMLElement[]} */ ([...section.querySelectorAll("a, button, summary")]).find((one) => wordsOf(one) === pressed);
  (again || section).focus({ preventScroll: true });
}

/**
 * A choice among boxes that lie under one finger.
 * @param {HTMLElement} section @param {{ i: number, box: string, symbol: import("./types").Symbol }[]} boxes
 * @param {number} more of them that are not offered @param {(i: number) => void} onChoose @param {() => void} onClose
 */
export function fillChooser(section, boxes, more, onChoose, onClose) {
  const choices = boxes.map(({ i, box, symbol }) => {
    const button = makeButton(symbolPicture(symbol), {}, () => onChoose(i));
    button.append("Box " + box + ", " + symbol.word);
    return make("li", {}, button);
  });
  fill(section, "Which box?", onClose, make("ul", { className: "chooser" }, ...choices),
    more > 0 ? make("p", {}, "And " + more + " more here: zoom in, or see them in the list.") : "");
  section.focus({ preventScroll: true });
}

/**
 * In place of a card that did not come, as where there is no signal.
 * @param {HTMLElement} section @param {string} box @param {Error} error @param {() => void} onAgain @param {() => void} onClose
 */
export function fillFailed(section, box, error, onAgain, onClose) {
  fill(section, "Box " + box, onClose, make("p", { className: "broken-card", role: "alert" }, "This card could not be loaded. " + error.message),
    makeButton("Try again", {}, onAgain));
}
