// The list view: the same boxes, filters and facts as the map, as a table in pages.
"use strict";

(function () {
  const ROWS = 100;
  const ORDER = new Intl.Collator("en", { numeric: true });
  const make = (...given) => boxround.make(...given);
  const ORDERS = {
    box: (a, b, rows) => ORDER.compare(rows.box(a), rows.box(b)),
    section: (a, b, rows) => ORDER.compare(rows.section(a), rows.section(b)),
    occupancy: (a, b, rows) => rows.occupancy(a).code - rows.occupancy(b).code,
    species: (a, b, rows) => ORDER.compare(rows.species(a).word, rows.species(b).word),
    fate: (a, b, rows) => rows.fate(a).code - rows.fate(b).code,
    since: (a, b, rows) => rows.since(b) - rows.since(a),
    due: (a, b, rows) => rows.due(a).code - rows.due(b).code,
  };
  const HEADS = [["box", "Box"], ["section", "Section"], ["occupancy", "What it is"], ["species", "Species"],
    ["fate", "Latest nest"], ["since", "Days since visit"]];
  const DUE = ["due", "Due"];

  boxround.List = class {
    constructor(section, onOpen) {
      this.section = section;
      this.onOpen = onOpen;
      this.order = "box";
      this.down = false;
      this.page = 0;
      this.rows = ROWS;
    }

    // `shown` are numbers of boxes; `rows` tells a box's cells by its number. What is due is shown where `rows` tells it.
    show(shown, rows) {
      if (this.order === "due" && !rows.due) this.order = "box";
      const compare = ORDERS[this.order];
      const sorted = Array.from(shown).sort((a, b) => (compare(a, b, rows) || a - b) * (this.down ? -1 : 1));
      const pages = Math.max(1, Math.ceil(sorted.length / this.rows));
      this.page = Math.min(this.page, pages - 1);
      const again = () => this.show(shown, rows);
      const caption = make("caption", {}, sorted.length.toLocaleString("en") + (sorted.length === 1 ? " box" : " boxes") + " on " + rows.on);
      const head = make("tr", {}, ...(rows.due ? [...HEADS, DUE] : HEADS).map(([name, words]) => this._head(name, words, again)));
      const body = make("tbody", {}, ...sorted.slice(this.page * this.rows, (this.page + 1) * this.rows).map((i) => this._row(i, rows)));
      const focused = this.section.contains(document.activeElement) && document.activeElement.id;
      this.section.replaceChildren(
        make("table", {}, caption, make("thead", {}, head), body),
        pages > 1 ? this._pages(pages, again) : "");
      if (focused) this._focus(document.getElementById(focused));
    }

    // The keyboard stays on the same button of the new table; where that is gone, in the list.
    _focus(button) { (button && !button.disabled ? button : this.section).focus({ preventScroll: true }); }

    _head(name, words, again) {
      const own = this.order === name;
      const button = make("button", { type: "button", id: "sort-" + name }, words + (own ? (this.down ? " \u25bc" : " \u25b2") : ""));
      button.addEventListener("click", () => {
        this.down = own && !this.down;
        this.order = name;
        this.page = 0;
        again();
      });
      return make("th", { scope: "col", "aria-sort": own ? (this.down ? "descending" : "ascending") : "none" }, button);
    }

    _row(i, rows) {
      const open = make("button", { type: "button", className: "open-box", id: "open-" + i }, rows.box(i));
      open.setAttribute("aria-label", "Open the card of box " + rows.box(i));
      open.addEventListener("click", () => this.onOpen(i));
      const symbol = (cell) => make("span", { className: "cell" }, boxround.symbolPicture(cell.symbol), cell.word);
      const since = rows.since(i), late = rows.overdue(i);
      return make("tr", {},
        make("th", { scope: "row" }, open), make("td", {}, rows.section(i)),
        make("td", {}, symbol(rows.occupancy(i))), make("td", {}, symbol(rows.species(i))), make("td", {}, symbol(rows.fate(i))),
        make("td", { className: late ? "since overdue" : "since" }, since < 0 ? "none this season" : since + (late ? " \u26a0 overdue" : "")),
        rows.due ? make("td", { className: "due" }, symbol(rows.due(i)), make("span", { className: "why" }, rows.why(i))) : null);
    }

    _pages(pages, again) {
      const step = (words, by) => {
        const button = make("button", { type: "button", id: "page-" + words.toLowerCase() }, words);
        button.disabled = this.page + by < 0 || this.page + by >= pages;
        button.addEventListener("click", () => { this.page += by; again(); });
        return button;
      };
      return make("p", { className: "pages" }, step("Earlier", -1), "Page " + (this.page + 1) + " of " + pages, step("Later", 1));
    }
  };
})();
