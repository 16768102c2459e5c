// The seasons of a trail: each is loaded when it is first shown.
"use strict";

(function () {
  boxround.Seasons = class {
    // `known` are the years that have one, first to last.
    constructor(source, known) {
      this.source = source;
      this.known = known;
      this.loaded = new Map();
    }

    // A promise of a year's season; one that failed is asked for anew.
    of(year) {
      if (!this.loaded.has(year)) {
        const body = boxround.load(this.source.replace("{season}", year));
        const coming = body.then((packed) => new boxround.Season(boxround.unpack(packed)));
        coming.catch(() => this.loaded.delete(year));
        this.loaded.set(year, coming);
      }
      return this.loaded.get(year);
    }

    // The season that a day (of 1970-01-01 on) lies in, the nearest one where it has none; `guess` is where to begin.
    async holding(number, guess) {
      const known = this.known;
      let year = Math.max(known[0], Math.min(known[known.length - 1], guess)), season = await this.of(year);
      while (number < season.first && known.includes(year - 1)) season = await this.of(--year);
      while (number >= season.first + season.days && known.includes(year + 1)) season = await this.of(++year);
      return { season: season, year: year };
    }
  };
})();
