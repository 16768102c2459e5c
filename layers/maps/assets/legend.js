// The legend: a symbol, a word and a count for each class; pressing one hides or shows its boxes.
"use strict";

(function () {
  boxround.fillLegend = function (list, symbols, hidden, onPress) {
    list.replaceChildren(...symbols.map((symbol, at) => {
      const count = boxround.make("span", { className: "count" }, "0");
      const button = boxround.make("button", {
        type: "button", className: "legend-entry", "aria-pressed": String(!hidden.has(symbol.word)),
      }, boxround.symbolPicture(symbol), boxround.make("span", { className: "word" }, symbol.word), count);
      button.addEventListener("click", () => {
        const shown = button.getAttribute("aria-pressed") === "true";
        button.setAttribute("aria-pressed", String(!shown));
        onPress(symbol.word, shown);
      });
      return boxround.make("li", {}, button);
    }));
    const counts = Array.from(list.querySelectorAll(".count"));
    return (numbers) => numbers.forEach((number, at) => { counts[at].textContent = number.toLocaleString("en"); });
  };
})();
