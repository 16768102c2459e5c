// The day that is shown: its controls below the map, and playing through the season.
"use strict";

(function () {
  const find = (id) => document.getElementById(id);
  const STEP_MS = 140;

  boxround.DayBar = class {
    // `onDay` is called when the day changed; `trying` is given work that may fail.
    constructor(seasons, header, { onDay, trying }) {
      this.seasons = seasons;
      this.header = header;
      this.onDay = onDay;
      this.trying = trying;
      this.playing = 0;
      this.turn = 0;
      this._addControls();
    }

    _addControls() {
      const to = (day) => this._set(day);
      find("seasons").append(...this.header.seasons.map((year) => boxround.make("option", { value: String(year) }, String(year))));
      find("seasons").addEventListener("change", (event) => this.trying(this._toSeason(Number(event.target.value))));
      find("day").addEventListener("change", (event) => event.target.value && this.trying(this.toDay(boxround.dayNumber(event.target.value))));
      find("day-back").addEventListener("click", () => this._step(-1));
      find("day-on").addEventListener("click", () => this._step(1));
      find("slider").addEventListener("input", (event) => to(Number(event.target.value)));
      boxround.chooseOnStrip(find("strip"), () => this.season, to);
      find("play").addEventListener("click", () => (this.playing ? this.stop() : this._play()));
      window.addEventListener("resize", () => this._drawStrip());
    }

    // The day shown, of 1970-01-01 on, and as people write it to machines.
    get number() { return this.season.first + this.day; }
    get iso() { return boxround.isoDay(this.number); }

    _set(day) {
      this.turn++;
      this.day = day;
      this.onDay();
    }

    async toDay(number) {
      const guess = this.season ? this.year + Math.floor((number - this.season.first) / 365.25) : this.header.season;
      const found = await this._last(this.seasons.holding(number, guess));
      if (!found) return;
      Object.assign(this, found);
      this.day = Math.max(0, Math.min(this.season.days - 1, number - this.season.first));
    }

    async _toSeason(year) {
      const season = await this._last(this.seasons.of(year));
      if (!season) return;
      const [lo, hi] = season.window();
      Object.assign(this, { season: season, year: year, day: Math.max(lo, Math.min(hi, this.day)) });
    }

    // What `work` gives; null where another day was chosen meanwhile, since the last choice holds.
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

    _step(by) { this.trying(this.toDay(this.number + by)); }

    _play() {
      const [lo, hi] = this.season.window();
      if (this.day >= hi) this.day = lo;
      this.playing = window.setInterval(() => {
        if (this.day >= hi) { this.stop(); return; }
        this._set(this.day + 1);
      }, boxround.calm() ? STEP_MS * 6 : STEP_MS);
      find("play").setAttribute("aria-pressed", "true");
      find("play").textContent = "Stop";
    }

    stop() {
      window.clearInterval(this.playing);
      this.playing = 0;
      find("play").setAttribute("aria-pressed", "false");
      find("play").textContent = "Play the season";
      this.onDay();
    }

    // Draw the controls, and the strip with the classes of `theme`, without the boxes left out, which `key`
    // tells apart. Where a theme is told for one day alone, `told` stands in the strip's place.
    show(theme, leftOut, key, told) {
      const [lo, hi] = this.season.window(), slider = find("slider"), said = boxround.saidDay(this.iso);
      find("day").value = this.iso;
      find("day").min = boxround.isoDay(boxround.dayNumber(this.header.on) - 36500);
      slider.min = String(lo);
      slider.max = String(hi);
      slider.value = String(this.day);
      slider.setAttribute("aria-valuetext", said);
      find("seasons").value = String(this.year);
      find("shown-day").textContent = "As on " + said;
      find("play").disabled = Boolean(told);
      find("strip").hidden = Boolean(told);
      find("told").hidden = !told;
      this.strip = null;
      if (told) { this._tell(told); return; }
      if (this.stripKey !== theme.name + " " + this.year + " " + key) {
        this.stripKey = theme.name + " " + this.year + " " + key;
        this.counts = this.season.counts(theme, leftOut);
      }
      this.strip = { counts: this.counts, symbols: theme.symbols };
      this._drawStrip();
    }

    _tell({ text, press, act }) {
      find("told-text").textContent = text;
      find("told-press").hidden = !press;
      find("told-press").textContent = press || "";
      find("told-press").onclick = act || null;
    }

    _drawStrip() {
      if (this.strip) boxround.drawStrip(find("strip"), this.season, this.strip.counts, this.strip.symbols, this.day);
    }
  };
})();
