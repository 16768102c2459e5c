// The species of a visit: chosen by name, or identified from what is seen of the nest.
import { make, makeButton, refill } from "/static/js/dom.js";
import { choices } from "./choices.js";
import { identify, percent } from "./identify.js";

/** @typedef {import("./identify.js").Key} Key */
/** @typedef {import("./identify.js").Seen} Seen */

const LISTED = 4;
/** @type {[import("./identify.js").Worded, string][]} */
const TRAITS = [["materials", "Nest of"], ["form", "Form of the nest"], ["ground", "Colour of the eggs, apart from marks"], ["marks", "Marks on the eggs"], ["adult", "Bird at the box"]];

/** The choice by name. @param {string[]} names @param {string} chosen @param {(name: string) => void} choose */
export function speciesField(names, chosen, choose) {
  const select = make("select", { id: "species" }, make("option", { value: "" }, "not recorded"),
    ...names.map((name) => make("option", { value: name, selected: chosen === name }, name)));
  select.addEventListener("change", () => choose(select.value));
  return make("div", { className: "field" }, make("label", { for: "species" }, "Species"), select);
}

/**
 * The key, folded. What is ticked goes into the draft; it is no part of the visit.
 * @param {Key} key
 * @param {{ seen: Seen, eggs: () => number, hole_mm: number | null, open: boolean, keep: (seen: Seen) => void, choose: (name: string) => void }} with_
 */
export function speciesKey(key, { seen, eggs, hole_mm, open, keep, choose }) {
  const answer = make("div", { className: "answer", role: "status" });
  const showAnswer = () => {
    const { said, look_next, candidates } = identify(key, { ...seen, eggs: eggs(), hole_mm });
    const some = Object.values(seen).some((one) => one?.toString());
    refill(answer, some ? make("p", {}, make("b", {}, said)) : null,
      some && open && look_next.length ? make("p", {}, "Look next at: " + look_next.join("; ") + ".") : null,
      some ? make("ol", { className: "candidates" }, ...candidates.slice(0, LISTED).map(({ species, chance, reasons }) => {
        const drawing = make("span", { className: "drawn" });
        drawing.innerHTML = species.drawing;
        return make("li", {}, make("div", { className: "line" }, makeButton("Take " + species.name, {}, () => choose(species.name)), make("b", {}, percent(chance)), drawing),
          make("ul", {}, ...reasons.map((reason) => make("li", {}, reason))));
      })) : null,
      some ? make("p", { className: "hint" }, "If you are not sure, leave the species unrecorded. How often a description is wrong is our own estimate.") : null);
  };
  const groups = TRAITS.map(([name, label]) => choices(label, key.words[name], name === "materials", [seen[name] ?? []].flat().filter(Boolean), (chosen) => {
    if (name === "materials") seen.materials = chosen; else seen[name] = chosen[0] ?? "";
    keep(seen);
    showAnswer();
  }));
  showAnswer();
  return make("details", { className: "key" }, make("summary", {}, "Identify the species"),
    make("p", {}, (open ? "Tick what you see" : "The box stays closed: tick only what was seen before") + "; the number of eggs, the hole and the day are used too."), ...groups, answer);
}
