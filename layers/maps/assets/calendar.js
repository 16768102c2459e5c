// The days of one nest: a picture with the intervals shaded, the same as a table, and what comes next.
"use strict";

(function () {
  const make = (...given) => boxround.make(...given);
  const ROW_PX = 24, AXIS_PX = 22;
  // Height of a bar: the wider interval is drawn lower than the narrower. The likeliest day is a narrow mark.
  const HIGH = { 95: 8, best: 20 }, USUAL = 14, MARK_PX = 6;
  const NS = "http://www.w3.org/2000/svg";

  function shape(tag, attributes, text) {
    const element = document.createElementNS(NS, tag);
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
    if (text) element.textContent = text;
    return element;
  }

  function picture(drawn, on) {
    const first = boxround.dayNumber(drawn.from), whole = boxround.dayNumber(drawn.to) - first;
    const at = (iso) => ((boxround.dayNumber(iso) - first) * 100) / whole;
    const high = drawn.rows.length * ROW_PX, pieces = [];
    for (const day of drawn.marks) {
      pieces.push(shape("line", { class: "axis", x1: at(day) + "%", x2: at(day) + "%", y1: 0, y2: high + 5 }));
      pieces.push(shape("text", { x: at(day) + "%", y: high + AXIS_PX - 5, dx: 3 }, boxround.shortDay(day)));
    }
    drawn.rows.forEach((row, number) => {
      for (const part of row.parts) {
        const height = HIGH[part.style] || USUAL, left = at(part.from), wide = at(part.to) - left;
        const place = part.style === "best" ? { x: left + wide / 2 + "%", width: MARK_PX, transform: "translate(" + -MARK_PX / 2 + " 0)" }
          : { x: left + "%", width: wide + "%" };
        pieces.push(shape("rect", { class: "days-" + part.style, y: number * ROW_PX + (ROW_PX - height) / 2, height: height, ...place }));
      }
    });
    if (drawn.from <= on && on < drawn.to) {
      pieces.push(shape("line", { class: "shown", x1: at(on) + 50 / whole + "%", x2: at(on) + 50 / whole + "%", y1: 0, y2: high }));
    }
    const svg = shape("svg", { width: "100%", height: high + AXIS_PX });
    svg.append(...pieces);
    const labels = make("div", { className: "calendar-labels" }, ...drawn.rows.map((row) => make("span", {}, row.label)));
    return make("div", { className: "calendar", "aria-hidden": "true" }, labels, svg);
  }

  function table(days) {
    const head = ["Event", "Likeliest", "80 % chance", "95 % chance"].map((words) => make("th", { scope: "col" }, words));
    const rows = days.map((one) => make("tr", {}, make("th", { scope: "row" }, one.event_label),
      make("td", {}, one.best_text), make("td", {}, one.interval_80), make("td", {}, one.interval_95)));
    return make("table", { className: "days-table" }, make("caption", {}, "When, by the visits"),
      make("thead", {}, make("tr", {}, ...head)), make("tbody", {}, ...rows));
  }

  const list = (sentences) => make("ul", {}, ...sentences.map((sentence) => make("li", {}, sentence)));

  // The days of an attempt as pieces of a card; `on` is the day shown.
  boxround.nestDays = function (attempt, on) {
    const days = attempt.days, next = attempt.forecast;
    return [
      attempt.contradiction ? make("p", { className: "caution" }, "\u26a0 " + attempt.contradiction) : null,
      attempt.picture ? picture(attempt.picture, on) : null,
      attempt.picture && days.length ? make("p", { className: "hint" },
        "Dark: 80 % chance; light: 95 %; upright: likeliest day. Dashed: the day shown.") : null,
      next.length ? make("h5", {}, "What comes next, as known on " + boxround.saidDay(attempt.known_on)) : null,
      next.length ? list(next.map((one) => one.text)) : null,
      attempt.memory.length ? make("p", { className: "hint" }, "From memory in the guide: " + attempt.memory.join(", ") + ". Set your own there.") : null,
      days.length ? make("details", { className: "days-said", open: attempt.fate === "ongoing" },
        make("summary", {}, "These days in words"), table(days), list(attempt.date_reasons)) : null,
    ];
  };

  // What a box needs on the day its card tells of.
  boxround.needs = function (card) {
    const due = card.due;
    if (!due) return [];
    const word = due.urgency[0].toUpperCase() + due.urgency.slice(1), until = due.until ? ", until " + boxround.saidDay(due.until) : "";
    return [make("p", { className: "needs" }, make("strong", {}, word + until + "."), " " + due.expected),
      due.reasons.length ? list(due.reasons) : null];
  };
})();
