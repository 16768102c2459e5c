// The season: what every box is on any of its days.
"use strict";

(function () {
  boxround.Season = class {
    constructor(packed) {
      this.packed = packed;
      this.days = packed.header.days;
      this.first = boxround.dayNumber(packed.header.first_day);
      this.boxes = packed.offset.length - 1;
    }

    // For each box the position of its last entry up to a day, -1 where there is none.
    latest(offset, days, day) {
      const found = new Int32Array(this.boxes);
      for (let i = 0; i < this.boxes; i++) {
        let lo = offset[i], hi = offset[i + 1];
        while (lo < hi) {
          const middle = (lo + hi) >> 1;
          if (days[middle] <= day) lo = middle + 1; else hi = middle;
        }
        found[i] = lo > offset[i] ? lo - 1 : -1;
      }
      return found;
    }

    codes(column, day) {
      const at = this.latest(this.packed.offset, this.packed.day, day), codes = new Uint8Array(this.boxes);
      for (let i = 0; i < this.boxes; i++) codes[i] = this.packed[column][at[i]];
      return codes;
    }

    daysSinceVisit(day) {
      const at = this.latest(this.packed.visit_offset, this.packed.visit_day, day);
      return Int32Array.from(at, (position) => (position < 0 ? -1 : day - this.packed.visit_day[position]));
    }

    // How many boxes of each class there are on each day: counts[class][day].
    counts(theme, leftOut) {
      const p = this.packed, codes = p[theme.column];
      const counts = theme.symbols.map(() => new Int32Array(this.days + 1));
      for (let i = 0; i < this.boxes; i++) {
        if (leftOut[i]) continue;
        for (let at = p.offset[i]; at < p.offset[i + 1]; at++) {
          const own = counts[theme.class_of[codes[at]]];
          own[p.day[at]]++;
          own[at + 1 < p.offset[i + 1] ? p.day[at + 1] : this.days]--;
        }
      }
      for (const own of counts) for (let d = 1; d <= this.days; d++) own[d] += own[d - 1];
      return counts;
    }

    // The days worth showing: from shortly before the first visit to some weeks after the last.
    window() {
      if (!this.shown) this.shown = this._window();
      return this.shown;
    }

    _window() {
      let lo = this.days, hi = 0;
      for (const day of this.packed.visit_day) { if (day < lo) lo = day; if (day > hi) hi = day; }
      return lo > hi ? [0, this.days - 1] : [Math.max(0, lo - 7), Math.min(this.days - 1, hi + 14)];
    }
  };
})();
