// What is due: told for one day at a time, since every day takes other data.
"use strict";

(function () {
  // A day is asked for only when somebody stays on it.
  const STAY_MS = 250;
  // Days kept: nobody plans further than two months ahead.
  const MOST_KEPT = 60;

  boxround.DueDays = class {
    // `source` holds {day}, or tells of the day `on` alone; `onCame` is called when a day came, or failed to.
    constructor(source, on, onCame) {
      this.source = source;
      this.on = on;
      this.onCame = onCame;
      this.known = new Map();
      this.failed = null;
      this.many = source.includes("{day}");
    }

    // What is due on a day (`due`, `why`, `until` by box); null where that is not told, or not yet.
    of(iso) {
      const day = this.known.get(iso);
      window.clearTimeout(this.waiting);
      if (!day && this._told(iso) && this.failed !== iso) this.waiting = window.setTimeout(() => this.load(iso), this.known.size ? STAY_MS : 0);
      return day || null;
    }

    _told(iso) { return this.many || iso === this.on; }

    async load(iso) {
      this.failed = null;
      try {
        const day = boxround.unpack(await boxround.load(this.source.replace("{day}", iso)));
        if (this.known.size >= MOST_KEPT) this.known.delete(this.known.keys().next().value);
        this.known.set(iso, day);
      } catch (error) {
        this.failed = iso;
        this.error = error;
      }
      this.onCame();
    }

    // What to tell of a day beside the map, and what a press does about it, if there is anything to do.
    said(iso, toDay) {
      const day = boxround.saidDay(iso);
      if (this.known.has(iso)) return { text: "What is due on " + day + ", from the visits up to that day. It is told for one day at a time." };
      if (!this._told(iso)) {
        const only = boxround.saidDay(this.on);
        return { text: "What is due is told for " + only + " only.", press: "Show " + only, act: () => toDay(this.on) };
      }
      if (this.failed === iso) {
        return { text: "What is due on " + day + " could not be loaded. " + this.error.message, press: "Try again", act: () => this.load(iso) };
      }
      return { text: "Finding out what is due on " + day + "\u2026" };
    }
  };
})();
