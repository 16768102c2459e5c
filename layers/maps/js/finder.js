// The form that finds a box by its id.
import { find, make } from "./dom.js";

/** @typedef {import("./types").Texts} Texts */

const MOST_OFFERED = 12;

/** The number of the box that was typed: as it is written, else in other capitals; -1 = none. @param {Texts} ids @param {string} typed */
export function findBox(ids, typed) {
  const exact = ids.indexOf(typed), other = typed.toLowerCase();
  for (let i = 0; exact < 0 && i < ids.length; i++) if (ids.at(i).toLowerCase() === other) return i;
  return exact;
}

/** Ids to offer for what has been typed so far. @param {Texts} ids @param {string} typed */
export function offered(ids, typed) {
  const found = [], part = typed.toLowerCase();
  for (let i = 0; part && i < ids.length && found.length < MOST_OFFERED; i++) if (ids.at(i).toLowerCase().includes(part)) found.push(ids.at(i));
  return found;
}

/** @param {Texts} ids @param {(i: number) => void} onFound */
export function addFinder(ids, onFound) {
  const typed = () => find("find-box").value.trim();
  find("find-box").addEventListener("input", () => {
    find("find-boxes").replaceChildren(...offered(ids, typed()).map((id) => make("option", { value: id })));
  });
  find("find").addEventListener("submit", (/** @type {Event} */ event) => {
    event.preventDefault();
    const i = typed() ? findBox(ids, typed()) : -1;
    find("find-answer").textContent = i < 0 && typed() ? "There is no box " + typed() + "." : "";
    if (i >= 0) onFound(i);
  });
}
