// A round shared among walkers: a link for each, and who has done what, as it arrives.
import { make, refill } from "/static/js/dom.js";
import { at, named } from "/static/web/base.js";
import { byWhom } from "./visit.js";

/** @typedef {import("./field.js").Field} Page */

const NAMES = named("boxround walkers");

/** The link that opens one walk, its boxes fixed in their order, for the person of a name. @param {string} query of the whole round @param {string[]} boxes @param {string} name */
export function linkOf(query, boxes, name) {
  const fields = new URLSearchParams(query);
  for (const key of ["set", "section", "boxes", "walkers", "minutes", "order", "window"]) fields.delete(key);
  for (const box of boxes) fields.append("boxes", box);
  const rest = new URLSearchParams({ set: "boxes", order: "given", ...(name ? { name } : {}) });
  return at("/field?") + rest + "&" + fields;
}

/** @returns {string[]} */
function names() {
  try {
    return JSON.parse(localStorage.getItem(NAMES) || "[]");
  } catch {
    return [];
  }
}

/** @param {Page} page @param {{ boxes: string[] }} walk @param {number} i */
function sectionOf(page, walk, i) {
  const input = make("input", { id: "walker-" + i, autocomplete: "off", maxLength: 200 });
  input.value = names()[i] || "";
  const link = make("a", {}, "");
  const show = () => {
    link.href = linkOf(page.query, walk.boxes, input.value.trim());
    link.textContent = "Link for " + (input.value.trim() || "walker " + (i + 1));
  };
  input.addEventListener("input", () => {
    const all = names();
    all[i] = input.value.trim();
    localStorage.setItem(NAMES, JSON.stringify(all));
    show();
  });
  show();
  const lines = walk.boxes.map((id) => ({ id, seen: page.walk.boxes.get(id)?.today ?? [] }));
  const done = lines.filter(({ seen }) => seen.length).length;
  return make("section", { className: "walker" }, make("h2", {}, "Walker " + (i + 1) + ": " + done + " of " + lines.length + " boxes done"),
    make("div", { className: "field" }, make("label", { for: input.id }, "Name"), input), make("p", {}, link),
    make("ul", { className: "outbox" }, ...lines.map(({ id, seen }) => make("li", {}, make("b", {}, id), " ",
      seen.length ? "✓ " + seen.map((one) => byWhom(one) + ": " + one.text).join("; ") : "not yet"))));
}

/** @param {Page} page @param {HTMLElement} place */
export function showWalkers(page, place) {
  const walks = (page.walk.round?.walks ?? []).filter((/** @type {{ boxes: string[] }} */ walk) => walk.boxes.length);
  refill(place, walks.length ? make("p", {}, "Send each walker their link: it opens their boxes in their order, with their name. What they send shows here.")
    : make("p", {}, "Plan a round for several walkers first."), ...walks.map((/** @type {{ boxes: string[] }} */ walk, /** @type {number} */ i) => sectionOf(page, walk, i)));
}
