// The day that is shown: its controls below the map, and playing through the season.
import { dayNumber, formatDay, isoDay } from "./days.js";
import { find, make } from "./dom.js";
import { Comparison } from "./eggs.js";
import { Seasons } from "./seasons.js";
import { chooseOnStrip, drawStrip } from "./strip.js";

/** @typedef {import("./seasons.js").Season} Season */
/** @typedef {import("./due.js").Notice} Notice */

const STEP_MS = 140;

/** Whether the device asks for less motion. */
const isCalm = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches;

export class DayBar {
  /**
   * @param {string} source of the seasons
   * @param {import("./types").Header} header
   * @param {{ onDay: () => void, trying: (work: Promise<void>) => void }} calls what to do when the day changed, and with work that may fail
   */
  constructor(source, header, { onDay, trying }) {
    this.seasons = new Seasons(source, header.seasons);
    this.header = header;
    this.onDay = onDay;
    this.trying = trying;
    this.playing = 0;
    this.turn = 0;
    this.day = 0;
    this.year = header.season;
    this.loaded = false;
    this.season = /** @type {Season} */ (/** @type {unknown} */ (null)); // until the first day is shown
    this.stripKey = "";
    /** @type {{ counts: Int32Array[], symbols: import("./types").Symbol[] } | null} */
    this.strip = null;
    this._addControls();
    this.comparison = new Comparison(this);
  }

  _addControls() {
    const to = (/** @type {number} */ day) => this._set(day);
    find("seasons").append(...this.header.seasons.map((year) => make("option", { value: String(year) }, String(year))));
    find("seasons").addEventListener("change", () => this.trying(this._toSeason(Number(find("seasons").value))));
    find("day").addEventListener("change", () => find("day").value && this.trying(this.toDay(dayNumber(find("day").value))));
    find("day-back").addEventListener("click", () => this._step(-1));
    find("day-on").addEventListener("click", () => this._step(1));
    find("slider").addEventListener("input", () => to(Number(find("slider").value)));
    chooseOnStrip(find("strip"), () => this.season, to);
    find("play").addEventListener("click", () => (this.playing ? this.stop() : this._play()));
    window.addEventListener("resize", () => this._drawStrip());
  }

  /** The day shown, from 1970-01-01. */
  get number() { return this.season.first + this.day; }

  /** The day shown, as machines write it. */
  get iso() { return isoDay(this.number); }

  /** @param {number} day */
  _set(day) {
    this.turn++;
    this.day = day;
    this.onDay();
  }

  /** @param {number} number */
  async toDay(number) {
    const guess = this.loaded ? this.year + Math.floor((number - this.season.first) / 365.25) : this.header.season;
    const found = await this._last(this.seasons.holding(number, guess));
    if (!found) return;
    const day = Math.max(0, Math.min(found.season.days - 1, number - found.season.first));
    Object.assign(this, { ...found, day, loaded: true });
  }

  /** @param {number} year */
  async _toSeason(year) {
    const season = await this._last(this.seasons.of(year));
    if (!season) return;
    const [lo, hi] = season.window();
    Object.assign(this, { season, year, day: Math.max(lo, Math.min(hi, this.day)) });
  }

  /**
   * What `work` gives; null where another day was chosen meanwhile, since the last choice holds.
   * @template T
   * @param {Promise<T>} work
   */
  async _last(work) {
    const turn = ++this.turn;
    try {
      const found = await work;
      return turn === this.turn ? found : null;
    } catch (error) {
      if (turn !== this.turn) return null;
      throw error;
    }
  }

  /** @param {number} by */
  _step(by) { this.trying(this.toDay(this.number + by)); }

  _play() {
    const [lo, hi] = this.season.window();
    if (this.day >= hi) this.day = lo;
    this.playing = window.setInterval(() => {
      if (this.day >= hi) { this.stop(); return; }
      this._set(this.day + 1);
    }, isCalm() ? STEP_MS * 6 : STEP_MS);
    this._showPlaying();
  }

  stop() {
    window.clearInterval(this.playing);
    this.playing = 0;
    this._showPlaying();
    this.onDay();
  }

  _showPlaying() {
    find("play").setAttribute("aria-pressed", String(this.playing > 0));
    find("play").textContent = this.playing ? "Stop" : "Play the season";
  }

  /**
   * Draw the controls, and the strip with the classes of a theme. Where a theme is worked out for
   * one day at a time, a notice takes the strip's place.
   * @param {import("./types").Theme} theme @param {Uint8Array} leftOut boxes not counted
   * @param {number} key which boxes those are @param {Notice | null} notice
   */
  show(theme, leftOut, key, notice) {
    const [lo, hi] = this.season.window(), slider = find("slider"), text = formatDay(this.iso);
    find("day").value = this.iso;
    find("day").min = isoDay(dayNumber(this.header.on) - 36500);
    Object.assign(slider, { min: String(lo), max: String(hi), value: String(this.day) });
    slider.setAttribute("aria-valuetext", text);
    find("seasons").value = String(this.year);
    find("shown-day").textContent = "As of " + text;
    find("play").disabled = Boolean(notice);
    find("strip").hidden = Boolean(notice);
    find("day-notice").hidden = !notice;
    this.comparison.show(leftOut);
    if (notice) {
      this.strip = null;
      this.stripKey = "";
      showNotice(notice);
      return;
    }
    const stripKey = [theme.name, this.year, key].join(" ");
    if (this.stripKey !== stripKey || !this.strip) this.strip = { counts: this.season.counts(theme, leftOut), symbols: theme.symbols };
    this.stripKey = stripKey;
    this._drawStrip();
  }

  _drawStrip() {
    if (this.strip) drawStrip(find("strip"), this.season, this.strip.counts, this.strip.symbols, this.day);
  }
}

/** @param {Notice} notice */
function showNotice({ text, press, act }) {
  find("day-notice-text").textContent = text;
  Object.assign(find("day-notice-press"), { hidden: !press, textContent: press || "", onclick: act || null });
}
