// The card of one box: what it is on the day shown, its nests and why, its visits and its set-up.
"use strict";

(function () {
  const make = (...given) => boxround.make(...given);

  function since(days) {
    if (days < 0) return "Not visited this season.";
    if (days === 0) return "Visited on this day.";
    return "Last visit " + (days === 1 ? "1 day" : days + " days") + " before.";
  }

  function counts(attempt) {
    const parts = [];
    if (attempt.eggs_max) parts.push("at most " + attempt.eggs_max + (attempt.eggs_max === 1 ? " egg" : " eggs"));
    if (attempt.young_max) parts.push(attempt.young_max + " young");
    if (attempt.young_fledged !== null) parts.push(attempt.young_fledged + " fledged");
    return parts.join(", ");
  }

  // The stage on the day shown while it lasts, with what is known of its end.
  function fateOn(attempt, on) {
    const end = attempt.fate + (attempt.cause ? ": " + attempt.cause : "");
    const piece = attempt.bar.find((part) => part.from <= on && on < part.to);
    if (!piece) return attempt.fate === "ongoing" ? attempt.stage : end;
    return piece.stage + (attempt.fate === "ongoing" ? "" : " on this day; later " + end);
  }

  function nest(attempt, on) {
    const fate = fateOn(attempt, on);
    return make("article", { className: "nest" },
      make("h4", {}, (attempt.species || "Species not recorded") + ", " + attempt.season + ", nest " + attempt.attempt),
      make("p", { className: "fate fate-" + attempt.fate }, fate),
      make("p", {}, counts(attempt)),
      ...boxround.nestDays(attempt, on),
      make("details", {}, make("summary", {}, "Why it is read so"),
        make("ul", {}, ...attempt.reasons.map((reason) => make("li", {}, reason)))));
  }

  function visit(entry) {
    const words = [entry.inside, entry.signs.join(", "), entry.actions.join(", ")].filter(Boolean).join("; ");
    return make("li", {},
      make("strong", {}, boxround.saidDay(entry.date) + (entry.time ? ", " + entry.time : "")),
      make("span", { className: "who" }, [entry.species, entry.observer].filter(Boolean).join(" \u00b7 ")),
      make("span", {}, words || "nothing recorded of the inside"),
      entry.note ? make("q", {}, entry.note) : null);
  }

  // What an unfolding part is called within its card.
  const named = (details) => {
    const own = details.closest(".nest");
    return (own ? own.querySelector("h4").textContent + ": " : "") + details.querySelector("summary").textContent;
  };
  const pressed = (one) => one.tagName + (one.tagName === "SUMMARY" ? named(one.parentElement) : one.textContent);

  // Give `section` the pieces of a card; in the card of the same box what was unfolded stays so, and the keyboard stays where it was.
  function replace(section, title, ...pieces) {
    const before = section.querySelector("#card-title"), same = before && before.textContent === title.textContent;
    const folds = new Map(same ? Array.from(section.querySelectorAll("details"), (one) => [named(one), one.open]) : []);
    const held = document.activeElement, inside = section.contains(held) && held !== section ? pressed(held) : null;
    boxround.refill(section, ...pieces);
    for (const one of section.querySelectorAll("details")) if (folds.has(named(one))) one.open = folds.get(named(one));
    if (inside === null) return;
    const again = Array.from(section.querySelectorAll("a, button, summary")).find((one) => pressed(one) === inside);
    (again || section).focus({ preventScroll: true });
  }

  // Fill `section` with a card; `state` holds the box's classes on the day shown.
  boxround.fillCard = function (section, card, state, links, onClose) {
    const upTo = card.visits.filter((entry) => entry.date <= state.on);
    const close = make("button", { type: "button", className: "close", "aria-label": "Close the card" }, "\u2715");
    close.addEventListener("click", onClose);
    const inside = upTo.find((entry) => entry.inside);
    const nests = card.attempts.filter((attempt) => !attempt.bar.length || attempt.bar[0].from <= state.on).reverse();
    const title = make("h2", { id: "card-title" }, "Box " + card.box);
    section.setAttribute("aria-labelledby", "card-title");
    replace(section, title,
      make("div", { className: "card-head" }, title, close),
      make("p", { className: "card-where" }, [card.name, card.section].filter(Boolean).join(" \u00b7 ")),
      make("p", { className: "card-now" }, boxround.symbolPicture(state.symbol),
        make("strong", {}, state.symbol.word), make("span", {}, " on " + boxround.saidDay(state.on))),
      make("p", {}, inside ? "Last seen inside (" + boxround.saidDay(inside.date) + "): " + inside.inside + "."
        : "Nothing is recorded of the inside."),
      make("p", { className: state.overdue ? "overdue" : "" },
        since(state.since) + (state.overdue ? " \u26a0 Overdue for a visit." : "")),
      ...(card.on === state.on ? [...boxround.needs(card), ...card.cautions.map((caution) => make("p", { className: "caution" }, "\u26a0 " + caution))]
        : [make("p", { className: "hint" }, "What is due here, and what to mind, is told for " + boxround.saidDay(card.on) + " only.")]),
      links.length ? make("p", { className: "card-links" },
        ...links.map(([words, address]) => make("a", { href: address }, words))) : null,
      make("h3", {}, nests.length ? "Nests" : "No nest so far"), ...nests.map((attempt) => nest(attempt, state.on)),
      make("h3", {}, "Last visits"),
      upTo.length ? make("ul", { className: "visits" }, ...upTo.slice(0, 6).map(visit)) : make("p", {}, "None by this day."),
      card.facts.length ? make("h3", {}, "Set-up") : null,
      card.facts.length ? make("dl", { className: "facts" }, ...card.facts.flatMap(
        ([words, value]) => [make("dt", {}, words), make("dd", {}, value)])) : null);
    section.hidden = false;
  };

  // A choice among boxes that lie under one finger.
  boxround.fillChooser = function (section, boxes, more, onChoose, onClose) {
    const close = make("button", { type: "button", className: "close", "aria-label": "Close the choice" }, "\u2715");
    close.addEventListener("click", onClose);
    section.setAttribute("aria-labelledby", "card-title");
    section.replaceChildren(
      make("div", { className: "card-head" }, make("h2", { id: "card-title" }, "Which box?"), close),
      make("ul", { className: "chooser" }, ...boxes.map(({ i, box, symbol }) => {
        const button = make("button", { type: "button" }, boxround.symbolPicture(symbol), "Box " + box + ", " + symbol.word);
        button.addEventListener("click", () => onChoose(i));
        return make("li", {}, button);
      })), more > 0 ? make("p", {}, "And " + more + " more here: zoom in, or see them in the list.") : "");
    section.hidden = false;
    section.focus({ preventScroll: true });
  };

  // In place of a card that did not come, as where there is no signal.
  boxround.fillFailed = function (section, box, error, onAgain, onClose) {
    const close = make("button", { type: "button", className: "close", "aria-label": "Close the card" }, "\u2715");
    close.addEventListener("click", onClose);
    const again = make("button", { type: "button" }, "Try again");
    again.addEventListener("click", onAgain);
    section.setAttribute("aria-labelledby", "card-title");
    boxround.refill(section,
      make("div", { className: "card-head" }, make("h2", { id: "card-title" }, "Box " + box), close),
      make("p", { className: "broken-card", role: "alert" }, "This card could not be loaded. " + error.message), again);
    section.hidden = false;
  };
})();
