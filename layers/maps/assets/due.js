// What is due: told for one day at a time, since every day takes other data.
"use strict";

(function () {
  // A day is asked for only when somebody stays on it.
  const STAY_MS = 250;
  // Days kept: nobody plans further than two months ahead.
  const MOST_KEPT = 60;
  // The one symbol of all boxes while a day is not told, and why it is not.
  const blank = (word) => [{ word: word, shape: "small ring", colour: "#FFFFFF" }];
  const COMING = blank("being worked out"), FAILED = blank("could not be loaded"), NOT_TOLD = blank("not told for this day");

  boxround.DueDays = class {
    // `source` holds {day}, or tells of the day `on` alone; `onCame` is called when the day last asked for came, failed to, or is tried anew.
    constructor(source, on, onCame) {
      this.source = source;
      this.on = on;
      this.onCame = onCame;
      this.known = new Map();
      this.failed = new Map();
      this.asked = new Set();
      this.many = source.includes("{day}");
    }

    // What is due on a day (`due`, `why`, `until` by box); null where that is not told, or not yet.
    of(iso) {
      const day = this.known.get(iso);
      window.clearTimeout(this.waiting);
      this.wanted = iso;
      if (!day && this._told(iso) && !this.failed.has(iso) && !this.asked.has(iso)) {
        this.waiting = window.setTimeout(() => this.load(iso), this.known.size || this.asked.size ? STAY_MS : 0);
      }
      return day || null;
    }

    _told(iso) { return this.many || iso === this.on; }

    async load(iso) {
      this.asked.add(iso);
      if (this.failed.delete(iso)) this.onCame();
      try {
        const day = boxround.unpack(await boxround.load(this.source.replace("{day}", iso)));
        if (this.known.size >= MOST_KEPT) this.known.delete(this.known.keys().next().value);
        this.known.set(iso, day);
      } catch (error) {
        this.failed.set(iso, error);
      }
      this.asked.delete(iso);
      if (iso === this.wanted) this.onCame();
    }

    // The symbols of a day that is not known.
    symbols(iso) {
      if (!this._told(iso)) return NOT_TOLD;
      return this.failed.has(iso) ? FAILED : COMING;
    }

    // What to tell of a day beside the map, and what a press does about it, if there is anything to do.
    said(iso, toDay) {
      const day = boxround.saidDay(iso);
      if (this.known.has(iso)) return { text: "What is due on " + day + ", from the visits up to that day. It is told for one day at a time." };
      if (!this._told(iso)) {
        const only = boxround.saidDay(this.on);
        return { text: "What is due is told for " + only + " only.", press: "Show " + only, act: () => toDay(this.on) };
      }
      if (this.failed.has(iso)) {
        const why = this.failed.get(iso).message;
        return { text: "What is due on " + day + " could not be loaded. " + why, press: "Try again", act: () => this.load(iso) };
      }
      return { text: "Working out what is due on " + day + "\u2026" };
    }
  };
})();
