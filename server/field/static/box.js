// One box: what is expected first, then counts by thumb, then all else folded.
import { make, makeButton, refill } from "/static/js/dom.js";
import { choices } from "./choices.js";
import { capitalise } from "./look.js";
import { questions } from "./questions.js";
import { speciesField, speciesKey } from "./species.js";
import { asLastTime, asSent, asStored, byWhom, empty, inWords, isBlank, MOST, mayDo, PAD, stepped, visitOf } from "./visit.js";

/** @typedef {import("./visit.js").Box} Box */
/** @typedef {import("./visit.js").Day} Day */
/** @typedef {import("./store.js").Draft} Draft */
/** @typedef {import("./store.js").Cells} Cells */

const TYPING_MS = 300;
const COULD_NOT = ["not found", "way blocked", "bird sat tight", "wasps or bees", "weather", "another reason"];
/** What one may see without opening. @type {[string, Cells][]} */
const FROM_OUTSIDE = [
  ["no sign of life", { adult: "none" }], ["adult near the box", { adult: "near" }], ["adult feeding young", { adult: "feeding" }],
  ["young heard", { note: "young heard" }],
];
const SAME_DAY = "same day", KEPT = " Draft kept on this phone.";
const COUNTS = /** @type {const} */ (["eggs", "young"]);

/** @param {{ observer?: string | null, time?: string | null }} visit @param {string} text */
const recordedToday = (visit, text) => make("p", { className: "earlier" }, "Recorded today by " + byWhom(visit) + ": " + text + ".");

export class BoxView {
  /**
   * @param {HTMLElement} place @param {Day} day @param {Box} box @param {Draft} draft
   * @param {{ keep: (draft: Draft) => Promise<void>, save: (draft: Draft) => void, skip: (reason: string) => void, discard: () => void }} calls
   * @param {{ where: string, earlier: string, observer: string, key: () => import("./identify.js").Key | null, kept: boolean }} words
   */
  constructor(place, day, box, draft, calls, words) {
    this.place = place;
    this.day = day;
    this.box = box;
    this.draft = draft;
    this.calls = calls;
    this.words = words;
    /** @type {HTMLElement | undefined} the species and the key, once they are unfolded */
    this.species = undefined;
    this.padOpen = "";
    this.typing = 0;
    this.askSkip = false;
    /** @type {Record<string, any>[] | undefined} visits of others on this day, where the server gave them */
    this.others = undefined;
    this.message = make("p", { className: "said-now", role: "status" });
    // Written only once the draft is on the disk.
    this.kept = make("span", { className: "kept" }, words.kept ? KEPT : "");
    this.rest = this._rest();
    this.body = make("div", { className: "count-first" });
    this.foot = make("div", { className: "foot" });
    refill(place, this._head(), this.body, this.message, this.rest, this.foot);
    this.show();
  }

  get cells() { return this.draft.cells; }

  /** Keep at once what a tap has changed. @param {Cells} cells */
  change(cells) {
    // What was confirmed was confirmed of other figures.
    Object.assign(this.draft.cells, { confirmed: "" }, cells);
    this._keep();
    this.show();
  }

  async _keep() {
    this._stopTyping();
    const keeping = this.keeping = {};
    this.kept.textContent = "";
    try {
      await this.calls.keep(this.draft);
      if (this.keeping === keeping) this.kept.textContent = KEPT;
      this.message.textContent = "";
    } catch (error) {
      this.message.textContent = "This phone could not keep it: " + /** @type {Error} */ (error).message + ". Save before you leave this page.";
    }
  }

  /** Keep what is being typed, before the page is hidden or left. */
  flush() { if (this.typing) this._keep(); }

  _stopTyping() {
    clearTimeout(this.typing);
    this.typing = 0;
  }

  _head() {
    const { box, words } = this, list = [];
    if (box.closed) list.push(make("p", { className: "closed-days" }, "Do not open " + box.closed));
    if (box.approach_text && !(box.closed && box.approach_text.includes(box.closed))) list.push(make("p", { className: "closed-days" }, box.approach_text));
    list.push(...box.today.map((one) => recordedToday(one, one.text)));
    if (words.earlier) list.push(make("p", { className: "earlier" }, words.earlier));
    return make("div", { className: "expect" },
      words.where ? make("p", { className: "where" }, words.where) : null,
      make("p", { className: "expected" }, capitalise(box.expected)),
      ...list,
      make("p", { className: "last" }, box.last ? "Last, " + box.last.day + ": " + box.last.text + "." : "Never visited so far.", this.kept));
  }

  show() {
    const may = mayDo(this.box);
    refill(this.body, ...(may === "open" ? this._steppers() : may === "watch" ? this._fromOutside() : [make("p", {}, "Leave this box alone and go on.")]));
    refill(this.foot, ...this._foot());
  }

  _steppers() {
    const last = asLastTime(this.box.last);
    return [
      ...COUNTS.map((name) => this._stepper(name)),
      Number(this.cells.young) > 0 ? this._ages() : null,
      make("div", { className: "quick" },
        last ? this._toggle("As last time", last) : null,
        this._toggle("Empty", empty()),
        this._toggle("Could not look", { opened: "no" })),
      this.cells.opened === "no" ? this._why() : null,
    ];
  }

  /** A button that fills several cells at once, in place of what the others filled. @param {string} label @param {Cells} cells */
  _toggle(label, cells) {
    const pressed = Object.entries(cells).every(([name, cell]) => this.cells[name] === cell)
      && (cells.opened !== "no" || !this.cells.eggs && !this.cells.young);
    return makeButton(label, { "aria-pressed": pressed }, () => this.change({ eggs: "", young: "", young_days: "", opened: "", ...(pressed ? {} : cells) }));
  }

  /** Whoever counts has opened the box, from the first tap on: a draft then shows what its visit will show. @param {"eggs" | "young"} name @param {string} number */
  _count(name, number) {
    const counted = COUNTS.some((one) => one === name ? number : this.cells[one]);
    this.change({ [name]: number, opened: counted ? "yes" : "" });
  }

  /** @param {"eggs" | "young"} name */
  _stepper(name) {
    const cell = this.cells[name] ?? "", ghost = this.box.last?.[name] ?? null, label = name === "eggs" ? "Eggs" : "Young";
    const step = (/** @type {number} */ by) => this._count(name, stepped(cell, ghost, by, MOST[name]));
    const shown = cell !== "" ? make("b", {}, cell) : make("i", {}, ghost === null ? "–" : String(ghost));
    const said = cell !== "" ? cell + " counted" : ghost === null ? "not counted" : "not counted, last " + ghost;
    const number = makeButton(shown, { className: "number", "aria-label": label + ": " + said + ". Choose a number", "aria-expanded": this.padOpen === name }, () => {
      this.padOpen = this.padOpen === name ? "" : name;
      this.show();
      this.body.querySelector(this.padOpen ? ".pad button" : "[data-of=" + name + "] .number")?.focus();
    });
    const row = make("div", { className: "stepper", role: "group", "aria-label": label, "data-of": name },
      make("span", { className: "label" }, label),
      makeButton("−", { "aria-label": "One less: " + label }, () => step(-1)), number, makeButton("+", { "aria-label": "One more: " + label }, () => step(1)));
    if (this.padOpen === name) row.append(this._pad(name, cell));
    return row;
  }

  /** @param {"eggs" | "young"} name @param {string} cell */
  _pad(name, cell) {
    const choose = (/** @type {string} */ number) => {
      this.padOpen = "";
      this._count(name, number);
      this.body.querySelector("[data-of=" + name + "] .number")?.focus();
    };
    return make("div", { className: "pad" },
      ...PAD.map((number) => makeButton(String(number), { "aria-pressed": cell === String(number) }, () => choose(String(number)))),
      makeButton("not counted", { className: "wide-key" }, () => choose("")));
  }

  _ages() {
    return make("div", { className: "ages", role: "group", "aria-label": "Age of the young" },
      ...this.day.ages.map(({ days, text }) => {
        const pressed = this.cells.young_days === String(days);
        return makeButton(make("span", {}, make("b", {}, days === 0 ? "new" : days + " days"), " ", text), { "aria-pressed": pressed },
          () => this.change({ young_days: pressed ? "" : String(days) }));
      }));
  }

  _fromOutside() {
    return [make("h2", {}, "Watch from outside"), make("div", { className: "quick" },
      ...FROM_OUTSIDE.map(([label, cells]) => this._chip(label, { opened: "no", ...cells })))];
  }

  _why() {
    return make("div", { className: "quick", role: "group", "aria-label": "Why" },
      ...COULD_NOT.map((reason) => this._chip(reason, { note: "could not look: " + reason })));
  }

  /** A chip that fills its cells, and empties them when pressed again. @param {string} label @param {Cells} cells */
  _chip(label, cells) {
    const pressed = Object.entries(cells).every(([name, cell]) => this.cells[name] === cell);
    return makeButton(label, { "aria-pressed": pressed }, () =>
      this.change(pressed ? Object.fromEntries(Object.keys(cells).filter((name) => name !== "opened").map((name) => [name, ""])) : cells));
  }

  _foot() {
    if (this.askSkip) {
      return [make("div", { className: "quick", role: "group", "aria-label": "Why skip" },
        ...COULD_NOT.map((reason) => makeButton("Skip: " + reason, {}, () => this.calls.skip(reason))),
        makeButton("Do not skip", {}, () => { this.askSkip = false; this.show(); }))];
    }
    const blank = isBlank(this.cells);
    return [
      makeButton("Skip", { className: "skip-box" }, () => { this.askSkip = true; this.show(); this.foot.querySelector("button")?.focus(); }),
      blank ? null : makeButton("Clear", { className: "skip-box" }, () => { this._stopTyping(); this.calls.discard(); }),
      makeButton(this.draft.replaces ? "Save correction" : "Save", { className: "save" }, () => this._save()),
    ];
  }

  _save() {
    if (isBlank({ ...this.cells, confirmed: "" })) {
      this.message.textContent = mayDo(this.box) === "open" ? "Nothing recorded. Press \"Could not look\" if you could not, or skip the box." : "Nothing recorded. Skip the box, if you saw nothing of it.";
      return;
    }
    this._stopTyping();
    const found = questions(this.box, this._asStored(), this._history(), this.day.figures);
    if (found.length) return this._ask(found);
    refill(this.foot, ...this._foot());
    this.calls.save(this.draft);
  }

  _asStored() { return asStored(visitOf(this.draft, this.words.observer)); }

  /** What the server has of others on this day, later than the page's own copy. @param {Record<string, any>[]} visits */
  showOthers(visits) {
    this.others = visits;
    for (const old of this.place.querySelectorAll(".expect .earlier")) old.remove();
    this.place.querySelector(".expect")?.append(...visits.map((one) => {
      const visit = asSent(one, this.day.timezone);
      return recordedToday(visit, inWords(visit));
    }));
  }

  /** The visits before; of a correction without the own one of the day, which it replaces. */
  _history() {
    const { history } = this.box, { draft, words, others } = this;
    if (others) return [...history.filter((one) => one.seen_on !== draft.date), ...others];
    return draft.replaces ? history.filter((one) => one.seen_on !== draft.date || one.observer !== words.observer) : history;
  }

  /** Ask about what is odd, each once: what is right is confirmed in the visit. @param {import("./questions.js").Question[]} found */
  _ask(found) {
    const box = make("div", { className: "odd", role: "alert" }, make("p", {}, make("b", {}, "Not saved yet. Is this right?")));
    for (const { kind, text, reading } of found) {
      box.append(make("p", {}, text, " ", make("span", { className: "hint" }, reading)),
        makeButton(kind === SAME_DAY ? "It was visited twice" : "It is right", {}, () => {
          this.cells.confirmed = [this.cells.confirmed, kind].filter(Boolean).join(";");
          this._keep();
          this._save();
        }),
        kind === SAME_DAY ? makeButton("It is the same visit: leave this one out", {}, () => this.calls.skip("recorded by another walker")) : "");
    }
    refill(this.foot, box, ...this._foot());
    this.foot.querySelector("button")?.focus();
  }

  /** The rest of the form, which is made once: what is typed there stays while counts change. */
  _rest() {
    const fields = mayDo(this.box) === "open" ? this.day.fields
      : this.day.fields.filter(({ name }) => ["adult", "signs", "note"].includes(name));
    const place = make("details", { className: "rest" }, make("summary", {}, "More: species, nest, signs, note"));
    const fill = () => refill(place, place.querySelector("summary"), this._species(), ...fields.map((field) => this._field(field)), ...this._cautions());
    place.addEventListener("toggle", () => { if (place.open && place.children.length === 1) fill(); });
    return place;
  }

  _cautions() {
    const { box, day } = this, list = mayDo(box) === "open" ? [...box.reasons, ...box.cautions, ...day.cautions] : [day.law];
    return [make("h2", {}, "Take care"), make("ul", {}, ...list.map((text) => make("li", {}, text)))];
  }

  /** The key came after the box was opened. */
  showKey() { if (this.species && !this.species.querySelector(".key")) this._species(); }

  _species() {
    const place = this.species = this.species ?? make("div"), names = [...new Set([...this.day.met, ...this.day.species])], key = this.words.key();
    const choose = (/** @type {string} */ species) => {
      this.change({ species });
      place.firstElementChild?.replaceWith(speciesField(names, species, choose));
      place.querySelector("select")?.focus();
    };
    return refill(place, speciesField(names, this.cells.species ?? "", choose), key ? speciesKey(key, {
      seen: this.draft.seen ?? {}, eggs: () => Number(this.cells.eggs || 0), hole_mm: ["round", "", null].includes(this.box.hole_shape) ? this.box.hole_mm : null,
      open: mayDo(this.box) === "open", keep: (seen) => { this.draft.seen = seen; this._keep(); }, choose,
    }) : null);
  }

  /** @param {import("./visit.js").Field} field */
  _field(field) {
    if (field.words.length) {
      const chosen = (this.cells[field.name] ?? "").split(";").filter(Boolean);
      return choices(field.label, field.words, field.kind === "words", chosen, (words) => this.change({ [field.name]: words.join(";") }));
    }
    const long = field.kind === "text", number = field.kind === "whole" || field.kind === "number";
    const input = make(long ? "textarea" : "input", { id: "rest-" + field.name, autocomplete: "off", ...(number ? { inputMode: "decimal" } : {}) });
    input.value = this.cells[field.name] ?? "";
    input.addEventListener("input", () => {
      this.draft.cells[field.name] = input.value;
      this._stopTyping();
      this.typing = setTimeout(() => { this._keep(); this.show(); }, TYPING_MS);
    });
    return make("div", { className: "field" }, make("label", { for: input.id }, field.label + (field.unit ? ", " + field.unit : "")), input);
  }
}
