// The legend: a symbol, a word and a count for each class; a press hides or shows ones boxes.
import { make, makeButton } from "./dom.js";
import { symbolPicture } from "./symbols.js";

/**
 * Fill a list with the symbols; gives a function that sets the count of each.
 * @param {HTMLElement} list @param {import("./types").Symbol[]} symbols @param {Set<string>} hidden words of classes
 * @param {(word: string, hide: boolean) => void} onPress
 */
export function fillLegend(list, symbols, hidden, onPress) {
  const counts = symbols.map(() => make("span", { className: "count" }, "0"));
  list.replaceChildren(...symbols.map((symbol, at) => {
    const button = makeButton("", { className: "legend-entry", "aria-pressed": String(!hidden.has(symbol.word)) }, () => {
      const shown = button.getAttribute("aria-pressed") === "true";
      button.setAttribute("aria-pressed", String(!shown));
      onPress(symbol.word, shown);
    });
    button.append(symbolPicture(symbol), make("span", { className: "word" }, symbol.word), counts[at]);
    return make("li", {}, button);
  }));
  return (/** @type {number[]} */ numbers) => numbers.forEach((number, at) => { counts[at].textContent = number.toLocaleString("en"); });
}
