// The list view: the same boxes, filters and facts as the map, as a table in pages. Its markup is list_table.html.
import { find, make, makeButton } from "./dom.js";
import { symbolPicture } from "./symbols.js";

/**
 * @typedef {object} Cell a word, its place among the words, and its symbol
 * @property {number} code @property {string} word @property {import("./types").Symbol} symbol
 */
/**
 * @typedef {object} Rows the cells of a box by its number; `due` and `reasons` where what is due is shown
 * @property {string} on
 * @property {(i: number) => string} box @property {(i: number) => string} section
 * @property {(i: number) => Cell} occupancy @property {(i: number) => Cell} species @property {(i: number) => Cell} fate
 * @property {(i: number) => number} since @property {(i: number) => boolean} overdue
 * @property {((i: number) => Cell) | undefined} due @property {(i: number) => string} reasons
 */

const ROWS = 100;
const WORDS = new Intl.Collator("en", { numeric: true });

/** @type {Record<string, (a: number, b: number, rows: Rows) => number>} */
const ORDERS = {
  box: (a, b, rows) => WORDS.compare(rows.box(a), rows.box(b)),
  section: (a, b, rows) => WORDS.compare(rows.section(a), rows.section(b)),
  occupancy: (a, b, rows) => rows.occupancy(a).code - rows.occupancy(b).code,
  species: (a, b, rows) => WORDS.compare(rows.species(a).word, rows.species(b).word),
  fate: (a, b, rows) => rows.fate(a).code - rows.fate(b).code,
  since: (a, b, rows) => rows.since(b) - rows.since(a),
  due: (a, b, rows) => (rows.due ? rows.due(a).code - rows.due(b).code : 0),
};

/** Numbers of boxes in the order of a column. @param {number[]} shown @param {string} order @param {boolean} down @param {Rows} rows */
export const sorted = (shown, order, down, rows) =>
  [...shown].sort((a, b) => (ORDERS[order](a, b, rows) || a - b) * (down ? -1 : 1));

/** @param {number} days */
export const daysAgo = (days) => days < 0 ? "none this season" : days === 0 ? "on this day" : days === 1 ? "1 day ago" : days + " days ago";

export class List {
  /** @param {HTMLElement} section @param {(i: number) => void} onOpen */
  constructor(section, onOpen) {
    this.section = section;
    this.onOpen = onOpen;
    this.order = "box";
    this.down = false;
    this.page = 0;
    this.rows = ROWS;
  }

  /** @param {number[]} shown numbers of boxes @param {Rows} rows */
  show(shown, rows) {
    if (this.order === "due" && !rows.due) this.order = "box";
    const boxes = sorted(shown, this.order, this.down, rows), pages = Math.max(1, Math.ceil(boxes.length / this.rows));
    this.page = Math.min(this.page, pages - 1);
    const again = () => this.show(shown, rows);
    const table = find("list-table").content.firstElementChild.cloneNode(true), row = table.querySelector("tbody tr");
    if (!rows.due) for (const cell of table.querySelectorAll("[data-column=due]")) cell.remove();
    table.querySelector("caption").textContent = boxes.length.toLocaleString("en") + (boxes.length === 1 ? " box" : " boxes") + " on " + rows.on;
    for (const head of table.querySelectorAll("thead th")) this._makeSortable(head, again);
    table.querySelector("tbody").replaceChildren(...boxes.slice(this.page * this.rows, (this.page + 1) * this.rows).map((i) => this._fillRow(row.cloneNode(true), i, rows)));
    const focused = this.section.contains(document.activeElement) && document.activeElement?.id;
    this.section.replaceChildren(table, pages > 1 ? this._pages(pages, again) : "");
    if (focused) this._focus(find(focused));
  }

  // The keyboard stays on the same button of the new table; where that is gone, in the list.
  /** @param {HTMLButtonElement | null} button */
  _focus(button) { (button && !button.disabled ? button : this.section).focus({ preventScroll: true }); }

  /** @param {HTMLElement} head @param {() => void} again */
  _makeSortable(head, again) {
    const name = String(head.dataset.column), own = this.order === name;
    const button = makeButton(head.textContent + (own ? (this.down ? " \u25bc" : " \u25b2") : ""), { id: "sort-" + name }, () => {
      Object.assign(this, { down: own && !this.down, order: name, page: 0 });
      again();
    });
    head.setAttribute("aria-sort", own ? (this.down ? "descending" : "ascending") : "none");
    head.replaceChildren(button);
  }

  /** @param {HTMLElement} row @param {number} i @param {Rows} rows */
  _fillRow(row, i, rows) {
    const cell = (/** @type {string} */ name) => /** @type {HTMLElement} */ (row.querySelector("[data-column=" + name + "]"));
    const box = rows.box(i), since = rows.since(i), late = rows.overdue(i);
    cell("box").replaceChildren(makeButton(box, { className: "open-box", id: "open-" + i, "aria-label": "Open the card of box " + box }, () => this.onOpen(i)));
    cell("section").textContent = rows.section(i);
    for (const name of /** @type {const} */ (["occupancy", "species", "fate", "due"])) {
      const found = rows[name]?.(i);
      if (found) cell(name).replaceChildren(make("span", { className: "cell" }, symbolPicture(found.symbol), found.word));
    }
    if (rows.due) cell("due").append(make("span", { className: "reasons" }, rows.reasons(i)));
    cell("since").textContent = daysAgo(since) + (late ? " \u26a0 overdue" : "");
    cell("since").classList.toggle("overdue", late);
    return row;
  }

  /** @param {number} pages @param {() => void} again */
  _pages(pages, again) {
    const step = (/** @type {string} */ words, /** @type {number} */ by) => {
      const button = makeButton(words, { id: "page-" + words.toLowerCase() }, () => { this.page += by; again(); });
      button.disabled = this.page + by < 0 || this.page + by >= pages;
      return button;
    };
    return make("p", { className: "pages" }, step("Earlier", -1), "Page " + (this.page + 1) + " of " + pages, step("Later", 1));
  }
}
