// Puts the map's page together: what is shown, and what is drawn anew after a change.
import { addressOf, readAddress } from "./address.js";
import { Chosen } from "./chosen.js";
import { DayBar } from "./daybar.js";
import { dayNumber, formatDay, shortDay } from "./days.js";
import { find, make } from "./dom.js";
import { DueDays } from "./due.js";
import { addFinder } from "./finder.js";
import { fillKey } from "./key.js";
import { fillLegend } from "./legend.js";
import { List } from "./list.js";
import { MapView } from "./mapview.js";
import { load, loadJson, unpack } from "./packed.js";
import { onPaper } from "./paper.js";

/** @typedef {import("./types").Symbol} Symbol */
/** @typedef {import("./types").Theme} Theme */

/** @type {(name: string) => NodeListOf<HTMLInputElement>} */
const radios = (name) => document.querySelectorAll("input[name=" + name + "]");

// Nothing can be pressed before there is something to show.
const setReady = (/** @type {boolean} */ yes) => { /** @type {HTMLElement} */ (document.querySelector("main")).inert = !yes; };

export class Page {
  /**
   * @param {L.Map} map @param {import("./types").Settings} settings
   * @param {import("./types").Base} base @param {import("./types").Layers} layers
   */
  constructor(map, settings, base, layers) {
    this.map = map;
    this.sources = settings.sources;
    this.base = base;
    this.layers = layers;
    this.header = base.header;
    const { due } = this.sources;
    this.themes = this.header.themes.filter((theme) => !theme.day_by_day || due);
    this.theme = this.themes.find((theme) => theme.name === settings.theme) || this.themes[0];
    this.due = new DueDays(due || "", this.header.on, () => { if (this.theme.day_by_day) this.show(); });
    /** @type {import("./types").DueDay | null} */
    this.dueDay = null;
    this.section = -1;
    this.asList = false;
    this.following = 0;
    this.leftOut = new Uint8Array(base.lon.length);
    this.classes = new Uint8Array(base.lon.length);
    this.since = new Int16Array(base.lon.length);
    /** @type {Symbol[]} */
    this.symbols = [];
    /** @type {Map<string, Set<string>>} */
    this.hidden = new Map(this.themes.map((theme) => [theme.name, new Set()]));
    /** @type {import("./due.js").Notice | null} */
    this.notice = null;
    this.view = new MapView(map, base, layers, settings.tiles);
    this.chosen = new Chosen(this);
    this.days = new DayBar(this.sources.season, this.header, { onDay: () => this.show(), trying: (work) => this._try(work) });
    this.list = new List(find("list-view"), (i) => this.chosen.open(i));
    this._fillPanel();
    this._listen();
  }

  async open() {
    await this._follow();
    window.addEventListener("hashchange", () => this._try(this._follow()));
    this.view.onMoved(() => {
      this._nameRings();
      if (!this.days.playing) this._write();
    });
  }

  _fillPanel() {
    const fold = () => { find("panel").open = !this.view.phone.matches; };
    this.view.phone.addEventListener("change", fold);
    fold();
    find("panel-close").addEventListener("click", () => {
      fold();
      find("panel").querySelector("summary").focus({ preventScroll: true });
    });
    this._fillKey();
    for (const theme of this.themes) {
      const radio = make("input", { type: "radio", name: "theme", value: theme.name });
      radio.addEventListener("change", () => this._toTheme(theme));
      find("themes").append(make("label", {}, radio, " " + theme.title));
    }
    find("sections").append(make("option", { value: "-1" }, "All sections"),
      ...[...this.base.sections].map((name, at) => make("option", { value: String(at) }, name || "No section")));
    if (!this.base.lon.length) {
      find("map-view").append(make("p", { className: "no-boxes" }, "This trail has no boxes yet. Import a file of them (CSV, XLSX, GPX or from a GIS): boxround add boxes FILE TRAIL"));
    }
  }

  _fillKey() { find("key").hidden = !fillKey(find("key-list"), this.layers); }

  /** Draw all pictures anew, in the look that the page has now. */
  redraw() {
    this.view.relook();
    this._fillKey();
    this.symbols = [];
    this.chosen.filled = null;
    this.show();
  }

  _listen() {
    find("sections").addEventListener("change", () => {
      this.section = Number(find("sections").value);
      this.leftOut = Uint8Array.from(this.base.section, (own) => Number(this.section >= 0 && own !== this.section));
      if (this.section < 0) this.view.fit(); else this.view.fitBoxes(this._where((i) => !this.leftOut[i]));
      this.show();
    });
    for (const radio of radios("view")) {
      radio.addEventListener("change", () => { this.asList = radio.value === "list"; this.show(); this.chosen.reveal(); });
    }
    find("grounds").hidden = !this.view.pictures;
    for (const radio of radios("ground")) radio.addEventListener("change", () => this.view.showPictures(radio.value === "pictures"));
    addFinder(this.base.box, (i) => {
      const place = this.view.layer.place(i);
      if (place) this.map.setView(place, Math.max(this.map.getZoom(), 16), { animate: false });
      this.chosen.open(i);
    });
    this.map.on("click", (event) => {
      if (!this.view.ruler.take(event.latlng)) this._press(event.containerPoint);
    });
    this.view.onNotice = (text) => { find("notice").textContent = text; };
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.redraw());
    onPaper(this, find("panel"), find("key"));
  }

  /** Numbers of the boxes that are so. @param {(i: number) => unknown} isSo */
  _where(isSo) { return [...this.classes.keys()].filter(isSo); }

  /** A press on the map: a box opens its card, a ring of boxes comes nearer. @param {L.Point} point */
  _press(point) {
    const meant = this.view.meant(point);
    if (meant.length) { this.chosen.offer(meant); return; }
    this._comeNearer(this.view.gathered(point));
  }

  /** Show the boxes of a ring. @param {number[]} boxes */
  _comeNearer(boxes) {
    if (!boxes.length) return;
    const zoom = this.map.getZoom();
    this.view.fitBoxes(boxes);
    // On one place: no nearer view parts them.
    if (this.map.getZoom() === zoom) this.chosen.offer(boxes);
  }

  /** Show what the address says; what it leaves out stays as it is, or as the page opens. */
  async _follow() {
    const given = readAddress(location.hash), turn = ++this.following;
    this.theme = this.themes.find((theme) => theme.name === given.theme) || this.theme;
    this.asList = given.view === "list";
    for (const radio of radios("theme")) radio.checked = radio.value === this.theme.name;
    for (const radio of radios("view")) radio.checked = radio.value === given.view;
    if (given.at) this.view.go(given.at);
    await this.days.toDay(given.day ? dayNumber(given.day) : this.days.loaded ? this.days.number : dayNumber(this.header.on));
    if (turn !== this.following) return; // another address was given meanwhile
    setReady(true);
    const box = given.box ? this.base.box.indexOf(given.box) : -1;
    if (box < 0) this.chosen.close();
    this.show();
    if (box >= 0 && box !== this.chosen.i) await this.chosen.open(box);
  }

  /** Wait for something that may fail; a failure is shown on the map. @param {Promise<void>} work */
  async _try(work) {
    try {
      await work;
      find("notice").textContent = "";
      this.show();
    } catch (error) {
      this._showDays();
      find("notice").textContent = "That could not be loaded. " + /** @type {Error} */ (error).message;
    }
  }

  /** @param {Theme} theme */
  _toTheme(theme) {
    this.theme = theme;
    if (this.days.playing && theme.day_by_day) this.days.stop(); else this.show();
  }

  _showDays() {
    const toDay = (/** @type {string} */ iso) => { this._try(this.days.toDay(dayNumber(iso))); };
    this.notice = this.theme.day_by_day ? this.due.notice(this.days.iso, toDay) : null;
    this.days.show(this.theme, this.leftOut, this.section, this.notice);
  }

  /**
   * The class of each box under a theme on the day shown, and the symbols of the classes.
   * @param {Theme} theme
   */
  _paint(theme) {
    const { season, day, iso } = this.days;
    if (theme.day_by_day) this.dueDay = this.due.of(iso);
    if (theme.day_by_day && !this.dueDay) return { classes: new Uint8Array(this.base.lon.length), symbols: this.due.symbols(iso) };
    const codes = theme.day_by_day && this.dueDay ? this.dueDay.due : season.codes(theme.column, day);
    return { classes: codes.map((code) => theme.class_of[code]), symbols: theme.symbols };
  }

  /** Draw everything that depends on what is shown. */
  show() {
    const { classes, symbols } = this._paint(this.theme), n = classes.length, hidden = new Uint8Array(n);
    this.since = this.days.season.daysSinceVisit(this.days.day);
    const away = this.hidden.get(this.theme.name) || new Set();
    const off = symbols.map((symbol) => away.has(symbol.word)), counts = symbols.map(() => 0);
    for (let i = 0; i < n; i++) {
      hidden[i] = this.leftOut[i] || Number(off[classes[i]]);
      if (!this.leftOut[i]) counts[classes[i]]++;
    }
    if (this.symbols !== symbols) {
      this.symbols = symbols;
      this.count = fillLegend(find("legend"), symbols, away, (word, hide) => {
        if (hide) away.add(word); else away.delete(word);
        this.show();
        const left = symbols.map((symbol, at) => (away.has(symbol.word) ? -1 : at)).filter((at) => at >= 0);
        if (left.length === 1) this.view.fitBoxes(this._where((i) => this.classes[i] === left[0] && !this.leftOut[i]));
      });
    }
    this.count?.(counts);
    this.classes = classes;
    this.view.layer.paint(classes, symbols, hidden);
    this._showDays();
    this._showView(hidden);
    this.chosen.fill();
    if (this.days.playing) return;
    this._nameRings();
    this._announce(counts);
  }

  _nameRings() { this.view.nameRings((boxes) => this._comeNearer(boxes)); }

  /** @param {Uint8Array} hidden */
  _showView(hidden) {
    const printing = document.documentElement.classList.contains("printing");
    find("map-view").hidden = this.asList && !printing;
    find("list-view").hidden = !this.asList && !printing;
    if (!this.asList && !printing) { this.view.keepToRoom(); return; }
    if (this.days.playing && !printing) return;
    this.list.show([...hidden.keys()].filter((i) => !hidden[i]), this._rows());
  }

  /** @returns {import("./list.js").Rows} */
  _rows() {
    /** @type {any} */
    const cells = {};
    for (const theme of this.themes) {
      if (theme.day_by_day && theme !== this.theme) continue;
      const { classes, symbols } = theme === this.theme ? this : this._paint(theme);
      cells[theme.name] = (/** @type {number} */ i) => ({ code: classes[i], symbol: symbols[classes[i]], word: symbols[classes[i]].word });
    }
    return {
      ...cells, on: formatDay(this.days.iso),
      box: (i) => this.base.box.at(i),
      section: (i) => this.base.sections.at(this.base.section[i]) || "",
      since: (i) => this.since[i],
      overdue: (i) => this._isOverdue(i, cells.occupancy(i).symbol),
      reasons: (i) => this._reasons(i),
    };
  }

  /** Why a box is due, and until when, in a few words; empty where that is not known. @param {number} i */
  _reasons(i) {
    if (!this.dueDay) return "";
    const until = this.dueDay.until[i], reasons = this.dueDay.reasons.at(this.dueDay.reason[i]);
    return until < 0 ? reasons : reasons + ", until " + shortDay(until);
  }

  /** @param {number} i @param {Symbol} occupancy */
  _isOverdue(i, occupancy) {
    return this.since[i] > this.header.visit_every_days && occupancy.word !== "out of service";
  }

  /** @param {number} i */
  symbolOf(i) { return this.symbols[this.classes[i]]; }

  /** What the card of a box shows of the day shown. @param {number} i @returns {import("./types").State} */
  stateOf(i) {
    const theme = /** @type {Theme} */ (this.header.themes.find((one) => one.column === "occupancy"));
    const symbol = theme.symbols[theme.class_of[this.days.season.codes("occupancy", this.days.day)[i]]];
    return { on: this.days.iso, symbol, since: this.since[i], overdue: this._isOverdue(i, symbol) };
  }

  _write() {
    const view = this.asList ? "list" : "map";
    history.replaceState(null, "", addressOf({ day: this.days.iso, theme: this.theme.name, view, box: this.chosen.box, at: this.view.at }));
  }

  /** Keep the address, and say aloud what is shown. @param {number[]} counts */
  _announce(counts) {
    this._write();
    const words = this.symbols.map((symbol, at) => counts[at] + " " + symbol.word).filter((text) => !text.startsWith("0 "));
    const text = this.notice && !this.dueDay ? this.notice.text : formatDay(this.days.iso) + ": " + words.join(", ");
    // Set only when it changes: it is read out aloud.
    if (find("announced").textContent !== text) find("announced").textContent = text;
  }
}

async function start() {
  const { map, settings } = window.boxround;
  find("map-view").append(map.getContainer());
  map.invalidateSize();
  setReady(false);
  try {
    const [base, layers] = await Promise.all([load(settings.sources.base), loadJson(settings.sources.ground)]);
    await new Page(map, settings, unpack(base), layers).open();
  } catch (error) {
    setReady(true);
    find("announced").textContent = "";
    find("map-view").replaceChildren(make("p", { className: "broken", role: "alert" }, "The map could not be loaded. " + /** @type {Error} */ (error).message));
  }
}

start();
