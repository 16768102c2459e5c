// Words to press: one of them, or several.
import { make, makeButton, refill } from "/static/js/dom.js";

/**
 * @param {string} label @param {string[]} words @param {boolean} several
 * @param {string[]} chosen @param {(chosen: string[]) => void} choose called with all that is chosen after a press
 */
export function choices(label, words, several, chosen, choose) {
  const group = make("div", { className: "quick", role: "group", "aria-label": label });
  const show = () => refill(group, ...words.map((word, i) => makeButton(word, { "aria-pressed": chosen.includes(word) }, () => {
    const rest = chosen.filter((one) => one !== word), isOn = rest.length === chosen.length;
    chosen = isOn ? [...(several ? chosen : []), word] : rest;
    choose(chosen);
    show();
    /** @type {HTMLElement} */ (group.children[i]).focus();
  })));
  show();
  return make("div", { className: "field" }, make("span", { className: "legend" }, label), group);
}
