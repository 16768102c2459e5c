// First eggs of each species below the season's strip, and the day shown in other years.
import { dayNumber, formatDay, isoDay, shortDay } from "./days.js";
import { find, make, makeButton, refill } from "./dom.js";
import { fillOf, look } from "./look.js";

/** @typedef {import("./seasons.js").Season} Season */
/** @typedef {import("./types").Theme} Theme */
/** @typedef {{ symbol: import("./types").Symbol, days: number[] }} Eggs days of a season, first to last */

// On a narrow screen the words are above the strokes.
const STROKES_PX = 24, WORDS_PX = 16, NARROW_PX = 500;

/** The code of a theme's column for a word. @param {Theme} theme @param {string} word */
const codeOf = (theme, word) => theme.class_of.indexOf(theme.symbols.findIndex((symbol) => symbol.word === word));

/**
 * Days of the first eggs by species: a box is in use from its first egg. Species with most nests first.
 * @param {Season} season @param {Theme} occupancy @param {Theme} species @param {Uint8Array} leftOut @returns {Eggs[]}
 */
export function firstEggs(season, occupancy, species, leftOut) {
  const inUse = codeOf(occupancy, "in use"), states = season.column("occupancy"), named = season.column("species");
  const found = species.symbols.map((symbol) => ({ symbol, days: /** @type {number[]} */ ([]) }));
  let box = -1, before = 0;
  season.walkChanges((i, state, on) => {
    if (leftOut[i]) return;
    if (i === box && states[state] === inUse && states[before] !== inUse) found[species.class_of[named[state]]].days.push(on);
    box = i;
    before = state;
  });
  for (const { days } of found) days.sort((a, b) => a - b);
  return found.filter(({ days }) => days.length).sort((a, b) => b.days.length - a.days.length);
}

/** As in "tree swallow: 23 first eggs, half of them by Thu 14 May". @param {Eggs} eggs @param {Season} season */
export function eggWords({ symbol, days }, season) {
  const half = shortDay(season.first + days[Math.ceil(days.length / 2) - 1]);
  return symbol.word + ": " + (days.length === 1 ? "first egg " + half : days.length + " first eggs, half of them by " + half);
}

/** The same day of the calendar in another year; 29 February becomes 1 March. @param {string} iso @param {number} years later */
export const inYears = (iso, years) => isoDay(dayNumber(String(Number(iso.slice(0, 4)) + years).padStart(4, "0") + "-" + iso.slice(5, 7) + "-01") + Number(iso.slice(8)) - 1);

export class Comparison {
  /** @param {import("./daybar.js").DayBar} bar */
  constructor(bar) {
    this.bar = bar;
    this.more = /** @type {HTMLDetailsElement} */ (find("compare"));
    const theme = (/** @type {string} */ column) => /** @type {Theme} */ (bar.header.themes.find((one) => one.column === column));
    this.occupancy = theme("occupancy");
    this.species = theme("species");
    this.leftOut = new Uint8Array();
    this.more.addEventListener("toggle", () => {
      this._fill();
      if (this.more.open) this.more.scrollIntoView({ block: "nearest" });
    });
  }

  /** @param {Uint8Array} leftOut boxes not counted */
  show(leftOut) {
    this.leftOut = leftOut;
    if (this.more.open) this._fill();
  }

  _fill() {
    const { season, playing } = this.bar;
    if (!this.more.open || !season) return;
    const eggs = firstEggs(season, this.occupancy, this.species, this.leftOut);
    refill(find("eggs-words"), ...(eggs.length ? eggs.map((one) => make("li", {}, eggWords(one, season))) : [make("li", {}, "No eggs were found this season.")]));
    this._draw(find("eggs"), eggs);
    if (!playing) this._otherYears();
  }

  /** @param {HTMLCanvasElement} canvas @param {Eggs[]} eggs */
  _draw(canvas, eggs) {
    const sharp = window.devicePixelRatio || 1, { season, day } = this.bar, [lo, hi] = season.window(), { ink, paper } = look();
    const wide = canvas.clientWidth, above = wide < NARROW_PX ? WORDS_PX : 0, high = STROKES_PX + above, left = (/** @type {number} */ d) => ((d - lo) / Math.max(1, hi - lo)) * wide;
    canvas.width = wide * sharp;
    canvas.height = eggs.length * high * sharp;
    canvas.style.height = eggs.length * high + "px";
    const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
    pen.scale(sharp, sharp);
    pen.font = "600 12px system-ui, sans-serif";
    pen.textBaseline = "middle";
    pen.lineJoin = "round";
    eggs.forEach(({ symbol, days }, row) => {
      const top = row * high + above, middle = above ? top - above / 2 + 2 : top + STROKES_PX / 2, half = days[Math.ceil(days.length / 2) - 1];
      for (const one of days) {
        pen.fillStyle = ink;
        pen.fillRect(left(one) - 2.5, top + (one === half ? 1 : 5), 5, STROKES_PX - (one === half ? 2 : 8));
        pen.fillStyle = fillOf(symbol.colour);
        pen.fillRect(left(one) - 1.5, top + (one === half ? 2 : 6), 3, STROKES_PX - (one === half ? 4 : 10));
      }
      pen.strokeStyle = paper;
      pen.lineWidth = 3;
      pen.fillStyle = ink;
      pen.strokeText(symbol.word + " " + days.length, 4, middle);
      pen.fillText(symbol.word + " " + days.length, 4, middle);
    });
    pen.fillRect(left(day) - 1, 0, 2, eggs.length * high);
  }

  async _otherYears() {
    const { bar } = this, iso = bar.iso, latest = this.latest = {};
    const rows = await Promise.all(bar.header.seasons.map(async (year) => {
      const season = await bar.seasons.of(year), on = inYears(iso, year - bar.year), day = dayNumber(on) - season.first;
      const counts = season.counts(this.occupancy, this.leftOut), classes = this.occupancy.symbols;
      const eggs = firstEggs(season, this.occupancy, this.species, this.leftOut).flatMap(({ days }) => days).filter((one) => one <= day).length;
      return { year, on, eggs, inUse: counts[classes.findIndex(({ word }) => word === "in use")][Math.max(0, Math.min(season.days - 1, day))] };
    })).catch(() => null);
    if (this.latest !== latest) return; // another day was chosen meanwhile
    refill(find("years"), ...(rows ? rows.reverse().map(({ year, on, eggs, inUse }) => make("li", {},
      makeButton(formatDay(on), { "aria-current": year === bar.year ? "true" : "false" }, () => bar.trying(bar.toDay(dayNumber(on)))),
      make("span", {}, inUse + " in use, " + eggs + (eggs === 1 ? " first egg" : " first eggs") + " so far"))) : [make("li", {}, "The other seasons could not be loaded.")]));
  }
}
