// Puts the page together: state, what changes it, and what is drawn anew after a change.
"use strict";

(function () {
  const find = (id) => document.getElementById(id);
  const make = (...given) => boxround.make(...given);
  const STEP_MS = 140;
  const MOST_TO_CHOOSE = 12;

  boxround.start = function (map, settings) {
    find("map-view").append(map.getContainer());
    map.invalidateSize();
    new Page(map, settings).open().catch((error) => {
      find("said").textContent = "";
      find("map-view").replaceChildren(make("p", { className: "broken", role: "alert" }, "The map could not be loaded. " + error.message));
    });
  };

  class Page {
    constructor(map, settings) {
      this.map = map;
      this.settings = settings;
      this.seasons = new Map();
      this.hidden = new Map();
      this.section = -1;
      this.chosen = -1;
      this.view = "map";
    }

    async open() {
      const [base, ground] = await Promise.all([boxround.load(this.settings.sources.base), boxround.loadJson(this.settings.sources.ground)]);
      this.base = boxround.unpack(base);
      this.header = this.base.header;
      this.themes = this.header.themes;
      this.inSection = new Uint8Array(this.base.lon.length);
      this.theme = this.themes.find((theme) => theme.name === this.settings.theme) || this.themes[0];
      this._drawMap(ground);
      this._fillControls();
      await this._follow();
      window.addEventListener("hashchange", () => this._try(this._follow()));
      this.map.on("moveend", () => { this.moved = !this.fitting; if (!this.playing) this._write(); });
    }

    // Show what the address says; what it leaves out stays as it is, or as the page opens.
    async _follow() {
      const asked = boxround.readAddress();
      this.theme = this.themes.find((theme) => theme.name === asked.theme) || this.theme;
      this.view = asked.view;
      for (const radio of document.querySelectorAll("input[name=theme]")) radio.checked = radio.value === this.theme.name;
      for (const radio of document.querySelectorAll("input[name=view]")) radio.checked = radio.value === this.view;
      if (asked.at) { this.map.setView(asked.at.place, asked.at.zoom, { animate: false }); this.moved = true; }
      await this._toDay(boxround.dayNumber(asked.day || (this.season ? this.iso() : this.header.on)));
      const box = this.base.box.indexOf(asked.box);
      if (box < 0 && !find("card").hidden) this.closeCard();
      this._show();
      if (box >= 0 && box !== this.chosen) await this.openCard(box);
    }

    // Wait for something that may fail; a failure is said where everybody sees it.
    async _try(work) {
      try {
        await work;
        find("notice").textContent = "";
        this._show();
      } catch (error) {
        this._showDay();
        find("notice").textContent = "That could not be loaded. " + error.message;
      }
    }

    _drawMap(ground) {
      const map = this.map;
      if (this.settings.tiles) {
        L.tileLayer(this.settings.tiles.url, { attribution: make("span", {}, this.settings.tiles.attribution).innerHTML }).addTo(map);
      }
      map.attributionControl.setPrefix(false);
      // A card lies at the right; on a phone the thumb reaches the bottom.
      this.phone = window.matchMedia("screen and (max-width: 899px)");
      this.corner = () => (this.phone.matches ? "bottomright" : "topleft");
      const zoom = L.control.zoom({ position: this.corner() }).addTo(map);
      L.control.scale({ position: "bottomleft", imperial: this.header.units === "us", metric: this.header.units !== "us" }).addTo(map);
      const drawn = boxround.addGround(map, ground, Boolean(this.settings.tiles));
      find("key").hidden = !boxround.fillKey(find("key-list"), ground);
      this.layer = new boxround.BoxLayer(this.base, drawn.names).addTo(map);
      const boxes = this.layer.bounds();
      this.whole = boxes.isValid() ? boxes : drawn.bounds;
      if (!this.base.lon.length) {
        find("map-view").append(make("p", { className: "no-boxes" }, "This trail has no boxes yet. Bring some in with: boxround add boxes FILE TRAIL"));
      }
      const fit = this._addFitControl();
      this.phone.addEventListener("change", () => { for (const control of [zoom, fit]) control.setPosition(this.corner()); });
      this._fit();
      map.on("click", (event) => this._clicked(event.containerPoint));
      map.getContainer().setAttribute("aria-label", "Map of the boxes. The list view tells the same in words.");
      map.getContainer().setAttribute("role", "application");
    }

    _addFitControl() {
      const control = L.control({ position: this.corner() });
      control.onAdd = () => {
        const button = make("button", { type: "button", className: "fit", title: "Show the whole trail", "aria-label": "Show the whole trail" }, "\u2922");
        L.DomEvent.disableClickPropagation(button);
        button.addEventListener("click", () => this._fit());
        return button;
      };
      return control.addTo(this.map);
    }

    _fit() {
      this.fitting = true;
      if (this.whole.isValid()) this.map.fitBounds(this.whole.pad(0.03), { maxZoom: 17, animate: false });
      this.fitting = this.moved = false;
    }

    _fillControls() {
      const fold = () => { find("panel").open = !this.phone.matches; };
      this.phone.addEventListener("change", fold);
      fold();
      for (const theme of this.themes) {
        const radio = make("input", { type: "radio", name: "theme", value: theme.name, checked: theme === this.theme });
        radio.addEventListener("change", () => { this.theme = theme; this._show(); });
        find("themes").append(make("label", {}, radio, " " + theme.title));
      }
      find("sections").append(make("option", { value: "-1" }, "All sections"),
        ...this.base.sections.map((name, at) => make("option", { value: String(at) }, name || "No section")));
      find("sections").addEventListener("change", (event) => {
        this.section = Number(event.target.value);
        this.inSection = Uint8Array.from(this.base.section, (own) => Number(this.section >= 0 && own !== this.section));
        this._show();
      });
      find("seasons").append(...this.header.seasons.map((year) => make("option", { value: String(year) }, String(year))));
      find("seasons").addEventListener("change", (event) => this._try(this._toSeason(Number(event.target.value))));
      this._fillFind();
      for (const radio of document.querySelectorAll("input[name=view]")) {
        radio.addEventListener("change", () => { this.view = radio.value; this._show(); this._reveal(); });
      }
      find("day").addEventListener("change", (event) => event.target.value && this._try(this._toDay(boxround.dayNumber(event.target.value))));
      find("day-back").addEventListener("click", () => this._step(-1));
      find("day-on").addEventListener("click", () => this._step(1));
      find("slider").addEventListener("input", (event) => { this.day = Number(event.target.value); this._show(); });
      boxround.chooseOnStrip(find("strip"), () => this.season, (day) => { this.day = day; this._show(); });
      find("play").addEventListener("click", () => (this.playing ? this._stop() : this._play()));
      this.list = new boxround.List(find("list-view"), (i) => this.openCard(i));
      document.addEventListener("keydown", (event) => { if (event.key === "Escape" && !find("card").hidden) this.closeCard(); });
      window.addEventListener("resize", () => this._drawStrip());
      boxround.onPaper({
        map: this.map, layer: this.layer, list: this.list, moved: () => this.moved, fit: () => this._fit(), show: () => this._show(),
      }, find("panel"), find("key"));
    }

    _fillFind() {
      const folded = this.base.box.map((box) => box.toLowerCase());
      find("find-box").addEventListener("input", (event) => {
        const wanted = event.target.value.trim().toLowerCase(), found = [];
        for (let i = 0; wanted && i < folded.length && found.length < 12; i++) if (folded[i].includes(wanted)) found.push(this.base.box[i]);
        find("find-boxes").replaceChildren(...found.map((box) => make("option", { value: box })));
      });
      find("find").addEventListener("submit", (event) => {
        event.preventDefault();
        const wanted = find("find-box").value.trim().toLowerCase(), i = folded.indexOf(wanted);
        find("find-said").textContent = i < 0 && wanted ? "There is no box " + find("find-box").value.trim() + "." : "";
        if (i < 0) return;
        const place = this.layer.place(i);
        if (place) this.map.setView(place, Math.max(this.map.getZoom(), 16), { animate: false });
        this.openCard(i);
      });
    }

    async _seasonOf(number) {
      if (!this.seasons.has(number)) {
        const body = await boxround.load(this.settings.sources.season.replace("{season}", number));
        this.seasons.set(number, new boxround.Season(boxround.unpack(body)));
      }
      return this.seasons.get(number);
    }

    async _toSeason(year) {
      const season = await this._seasonOf(year), [lo, hi] = season.window();
      this.season = season;
      this.year = year;
      this.day = Math.max(lo, Math.min(hi, this.day));
    }

    // A day of 1970-01-01 on: its season is loaded, the nearest one where it has none.
    async _toDay(number) {
      let year = this.season ? this.year + Math.floor((number - this.season.first) / 365.25) : this.header.season;
      const known = this.header.seasons;
      year = Math.max(known[0], Math.min(known[known.length - 1], year));
      let season = await this._seasonOf(year);
      while (number < season.first && known.includes(year - 1)) season = await this._seasonOf(--year);
      while (number >= season.first + season.days && known.includes(year + 1)) season = await this._seasonOf(++year);
      this.season = season;
      this.year = year;
      this.day = Math.max(0, Math.min(season.days - 1, number - season.first));
    }

    _step(by) {
      this._try(this._toDay(this.season.first + this.day + by));
    }

    _play() {
      const [lo, hi] = this.season.window();
      if (this.day >= hi) this.day = lo;
      this.playing = window.setInterval(() => {
        if (this.day >= hi) { this._stop(); return; }
        this.day++;
        this._show();
      }, window.matchMedia("(prefers-reduced-motion: reduce)").matches ? STEP_MS * 6 : STEP_MS);
      find("play").setAttribute("aria-pressed", "true");
      find("play").textContent = "Stop";
    }

    _stop() {
      window.clearInterval(this.playing);
      this.playing = 0;
      find("play").setAttribute("aria-pressed", "false");
      find("play").textContent = "Play the season";
      this._show();
    }

    iso() { return boxround.isoDay(this.season.first + this.day); }

    _classes(theme) {
      const codes = this.season.codes(theme.column, this.day);
      return Uint8Array.from(codes, (code) => theme.class_of[code]);
    }

    // Draw everything that depends on the state.
    _show() {
      const theme = this.theme, classes = this._classes(theme);
      this.since = this.season.daysSinceVisit(this.day);
      if (!this.hidden.has(theme.name)) this.hidden.set(theme.name, new Set());
      const away = this.hidden.get(theme.name), n = classes.length, hidden = new Uint8Array(n);
      const off = theme.symbols.map((symbol) => away.has(symbol.word)), counts = theme.symbols.map(() => 0);
      for (let i = 0; i < n; i++) {
        if (this.inSection[i]) { hidden[i] = 1; continue; }
        counts[classes[i]]++;
        if (off[classes[i]]) hidden[i] = 1;
      }
      if (this.legendOf !== theme) {
        this.legendOf = theme;
        this.count = boxround.fillLegend(find("legend"), theme.symbols, away, (word, hide) => {
          if (hide) away.add(word); else away.delete(word);
          this._show();
        });
      }
      this.count(counts);
      this.classes = classes;
      this.layer.paint(classes, theme.symbols, hidden);
      this._showDay();
      this._showView(hidden);
      if (this.card) this._fillCard();
      if (!this.playing) this._remember(counts);
    }

    _showDay() {
      const [lo, hi] = this.season.window(), iso = this.iso(), slider = find("slider");
      find("day").value = iso;
      find("day").min = boxround.isoDay(boxround.dayNumber(this.header.on) - 36500);
      slider.min = String(lo);
      slider.max = String(hi);
      slider.value = String(this.day);
      slider.setAttribute("aria-valuetext", boxround.saidDay(iso));
      find("seasons").value = String(this.year);
      find("shown-day").textContent = "As on " + boxround.saidDay(iso);
      this._drawStrip();
    }

    _drawStrip() {
      const key = this.theme.name + " " + this.year + " " + this.section;
      if (this.stripKey !== key) {
        this.stripKey = key;
        this.stripCounts = this.season.counts(this.theme, this.inSection);
      }
      boxround.drawStrip(find("strip"), this.season, this.stripCounts, this.theme.symbols, this.day);
    }

    _showView(hidden) {
      const asList = this.view === "list", onPaper = document.documentElement.classList.contains("printing");
      find("map-view").hidden = asList && !onPaper;
      find("list-view").hidden = !asList && !onPaper;
      if (!asList && !onPaper) { this.map.invalidateSize({ animate: false }); return; }
      if (this.playing && !onPaper) return;
      const shown = [];
      for (let i = 0; i < hidden.length; i++) if (!hidden[i]) shown.push(i);
      this.list.show(shown, this._rows());
    }

    _rows() {
      const cells = {};
      for (const theme of this.themes) {
        const classes = theme === this.theme ? this.classes : this._classes(theme);
        cells[theme.name] = (i) => ({ code: classes[i], symbol: theme.symbols[classes[i]], word: theme.symbols[classes[i]].word });
      }
      const occupied = this.season.codes("occupancy", this.day);
      return Object.assign(cells, {
        on: boxround.saidDay(this.iso()),
        box: (i) => this.base.box[i],
        section: (i) => this.base.sections[this.base.section[i]] || "",
        since: (i) => this.since[i],
        overdue: (i) => this._overdue(i, occupied[i]),
      });
    }

    _overdue(i, code) {
      const occupancy = this.themes.find((theme) => theme.column === "occupancy");
      return this.since[i] > this.header.visit_every_days && occupancy.symbols[occupancy.class_of[code]].word !== "out of service";
    }

    _write() {
      boxround.writeAddress({
        day: this.iso(), theme: this.theme.name, view: this.view,
        box: this.chosen < 0 ? null : this.base.box[this.chosen], map: this.moved ? this.map : null,
      });
    }

    _remember(counts) {
      this._write();
      find("said").textContent = boxround.saidDay(this.iso()) + ": " + this.theme.symbols
        .map((symbol, at) => counts[at] + " " + symbol.word).filter((text) => !text.startsWith("0 ")).join(", ");
    }

    _clicked(point) {
      const found = this.layer.near(point);
      if (!found.length) return;
      // Boxes drawn on top of each other: ask which is meant.
      const together = found.filter((i) => this.layer.place(i).distanceTo(this.layer.place(found[0])) < 1 ||
        this.map.latLngToContainerPoint(this.layer.place(i)).distanceTo(this.map.latLngToContainerPoint(this.layer.place(found[0]))) < 9);
      if (together.length === 1) { this.openCard(found[0]); return; }
      boxround.fillChooser(find("card"), together.slice(0, MOST_TO_CHOOSE).map((i) => ({
        i: i, box: this.base.box[i], symbol: this.theme.symbols[this.classes[i]], word: this.theme.symbols[this.classes[i]].word,
      })), together.length - MOST_TO_CHOOSE, (i) => this.openCard(i), () => this.closeCard());
    }

    async openCard(i) {
      const box = this.base.box[i];
      this.before = this.before && this.before.isConnected ? this.before : document.activeElement;
      if (this.phone.matches) find("panel").open = false;
      this.chosen = i;
      this.card = null;
      this.layer.choose(i);
      let card;
      try {
        card = await boxround.loadCard(this.settings.sources.card, i, box);
      } catch (error) {
        if (this.chosen === i) boxround.fillFailed(find("card"), box, error, () => this.openCard(i), () => this.closeCard());
      }
      if (this.chosen !== i) return;
      if (card) {
        this.card = card;
        this._fillCard();
      }
      const section = find("card");
      section.scrollTop = 0;
      section.focus({ preventScroll: true });
      this._show();
      this._reveal();
    }

    _reveal() {
      const place = this.chosen < 0 || find("card").hidden ? null : this.layer.place(this.chosen);
      if (place) boxround.reveal(this.map, place, find("card"));
    }

    _fillCard() {
      const i = this.chosen, box = this.base.box[i], sources = this.settings.sources;
      const occupancy = this.themes.find((theme) => theme.column === "occupancy");
      const code = this.season.codes("occupancy", this.day)[i], symbol = occupancy.symbols[occupancy.class_of[code]];
      const links = [["Everything about this box", sources.box_page], ["Record a visit", sources.visit_form]]
        .filter(([, address]) => address).map(([words, address]) => [words, address.replace("{box}", encodeURIComponent(box))]);
      boxround.fillCard(find("card"), this.card, {
        on: this.iso(), occupancy: symbol.word, symbol: symbol, since: this.since[i], overdue: this._overdue(i, code),
      }, links, () => this.closeCard());
    }

    closeCard() {
      find("card").hidden = true;
      this.chosen = -1;
      this.card = null;
      this.layer.choose(-1);
      // What was pressed may be folded away by now; then the map takes the focus.
      const before = this.before && this.before.isConnected && this.before.checkVisibility() ? this.before : this.map.getContainer();
      before.focus({ preventScroll: true });
      this.before = null;
      this._show();
    }
  }
})();
