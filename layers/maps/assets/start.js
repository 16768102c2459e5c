// Puts the page together: what is shown, and what is drawn anew after a change.
"use strict";

(function () {
  const find = (id) => document.getElementById(id);
  const make = (...given) => boxround.make(...given);
  const ONE_DAY = "day";
  const radios = (name) => document.querySelectorAll("input[name=" + name + "]");

  // Nothing can be pressed before there is something to show.
  const ready = (yes) => { document.querySelector("main").inert = !yes; };

  boxround.start = function (map, settings) {
    find("map-view").append(map.getContainer());
    map.invalidateSize();
    ready(false);
    new Page(map, settings).open().catch((error) => {
      ready(true);
      find("said").textContent = "";
      find("map-view").replaceChildren(make("p", { className: "broken", role: "alert" }, "The map could not be loaded. " + error.message));
    });
  };

  class Page {
    constructor(map, settings) {
      this.map = map;
      this.settings = settings;
      this.sources = settings.sources;
      this.hidden = new Map();
      this.section = -1;
      this.asList = false;
      this.following = 0;
    }

    async open() {
      const [base, ground] = await Promise.all([boxround.load(this.sources.base), boxround.loadJson(this.sources.ground)]);
      this.base = boxround.unpack(base);
      this.header = this.base.header;
      this.themes = this.header.themes.filter((theme) => theme.told !== ONE_DAY || this.sources.due);
      this.due = this.sources.due && new boxround.DueDays(this.sources.due, this.header.on, () => { if (this.theme.told === ONE_DAY) this.show(); });
      this.theme = this.themes.find((theme) => theme.name === this.settings.theme) || this.themes[0];
      this.leftOut = new Uint8Array(this.base.lon.length);
      this.view = new boxround.MapView(this.map, this.base, ground, this.settings.tiles);
      this.chosen = new boxround.Chosen(this);
      this.days = new boxround.DayBar(new boxround.Seasons(this.sources.season, this.header.seasons), this.header, {
        onDay: () => this.show(), trying: (work) => this._try(work),
      });
      this.list = new boxround.List(find("list-view"), (i) => this.chosen.open(i));
      this._fillPanel(ground);
      this._listen();
      await this._follow();
      window.addEventListener("hashchange", () => this._try(this._follow()));
      this.view.onMoved(() => { if (!this.days.playing) this._write(); });
    }

    _fillPanel(ground) {
      const fold = () => { find("panel").open = !this.view.phone.matches; };
      this.view.phone.addEventListener("change", fold);
      fold();
      find("key").hidden = !boxround.fillKey(find("key-list"), ground);
      for (const theme of this.themes) {
        const radio = make("input", { type: "radio", name: "theme", value: theme.name });
        radio.addEventListener("change", () => this._toTheme(theme));
        find("themes").append(make("label", {}, radio, " " + theme.title));
      }
      find("sections").append(make("option", { value: "-1" }, "All sections"),
        ...this.base.sections.map((name, at) => make("option", { value: String(at) }, name || "No section")));
      if (!this.base.lon.length) {
        find("map-view").append(make("p", { className: "no-boxes" }, "This trail has no boxes yet. Bring some in with: boxround add boxes FILE TRAIL"));
      }
    }

    _listen() {
      find("sections").addEventListener("change", (event) => {
        this.section = Number(event.target.value);
        this.leftOut = Uint8Array.from(this.base.section, (own) => Number(this.section >= 0 && own !== this.section));
        this.show();
      });
      for (const radio of radios("view")) {
        radio.addEventListener("change", () => { this.asList = radio.value === "list"; this.show(); this.chosen.reveal(); });
      }
      boxround.addFinder(this.base.box, (i) => {
        const place = this.view.layer.place(i);
        if (place) this.map.setView(place, Math.max(this.map.getZoom(), 16), { animate: false });
        this.chosen.open(i);
      });
      this.map.on("click", (event) => {
        const meant = this.view.meant(event.containerPoint);
        if (meant.length) this.chosen.offer(meant);
      });
      boxround.onPaper(this, find("panel"), find("key"));
    }

    // Show what the address says; what it leaves out stays as it is, or as the page opens.
    async _follow() {
      const asked = boxround.readAddress(), turn = ++this.following;
      this.theme = this.themes.find((theme) => theme.name === asked.theme) || this.theme;
      this.asList = asked.view === "list";
      for (const radio of radios("theme")) radio.checked = radio.value === this.theme.name;
      for (const radio of radios("view")) radio.checked = radio.value === asked.view;
      if (asked.at) this.view.go(asked.at.place, asked.at.zoom);
      await this.days.toDay(asked.day ? boxround.dayNumber(asked.day) : this.days.season ? this.days.number : boxround.dayNumber(this.header.on));
      if (turn !== this.following) return; // another address was given meanwhile
      ready(true);
      const box = this.base.box.indexOf(asked.box);
      if (box < 0) this.chosen.close();
      this.show();
      if (box >= 0 && box !== this.chosen.i) await this.chosen.open(box);
    }

    // Wait for something that may fail; a failure is said where everybody sees it.
    async _try(work) {
      try {
        await work;
        find("notice").textContent = "";
        this.show();
      } catch (error) {
        this._showDays();
        find("notice").textContent = "That could not be loaded. " + error.message;
      }
    }

    _toTheme(theme) {
      this.theme = theme;
      if (this.days.playing && theme.told === ONE_DAY) this.days.stop(); else this.show();
    }

    _showDays() {
      this.told = this.theme.told === ONE_DAY
        ? this.due.said(this.days.iso, (iso) => this._try(this.days.toDay(boxround.dayNumber(iso)))) : null;
      this.days.show(this.theme, this.leftOut, this.section, this.told);
    }

    // The class of each box under a theme on the day shown, and the symbols of the classes.
    _painted(theme) {
      let codes = null;
      if (theme.told === ONE_DAY) {
        this.dueDay = this.due.of(this.days.iso);
        if (!this.dueDay) return { classes: new Uint8Array(this.base.lon.length), symbols: this.due.symbols(this.days.iso) };
        codes = this.dueDay[theme.column];
      } else {
        codes = this.days.season.codes(theme.column, this.days.day);
      }
      return { classes: Uint8Array.from(codes, (code) => theme.class_of[code]), symbols: theme.symbols };
    }

    // Draw everything that depends on what is shown.
    show() {
      const theme = this.theme, { classes, symbols } = this._painted(theme);
      this.since = this.days.season.daysSinceVisit(this.days.day);
      if (!this.hidden.has(theme.name)) this.hidden.set(theme.name, new Set());
      const away = this.hidden.get(theme.name), n = classes.length, hidden = new Uint8Array(n);
      const off = symbols.map((symbol) => away.has(symbol.word)), counts = symbols.map(() => 0);
      for (let i = 0; i < n; i++) {
        if (this.leftOut[i]) { hidden[i] = 1; continue; }
        counts[classes[i]]++;
        if (off[classes[i]]) hidden[i] = 1;
      }
      if (this.symbols !== symbols) {
        this.symbols = symbols;
        this.count = boxround.fillLegend(find("legend"), symbols, away, (word, hide) => {
          if (hide) away.add(word); else away.delete(word);
          this.show();
        });
      }
      this.count(counts);
      this.classes = classes;
      this.view.layer.paint(classes, symbols, hidden);
      this._showDays();
      this._showView(hidden);
      this.chosen.fill();
      if (!this.days.playing) this._remember(counts);
    }

    _showView(hidden) {
      const onPaper = document.documentElement.classList.contains("printing");
      find("map-view").hidden = this.asList && !onPaper;
      find("list-view").hidden = !this.asList && !onPaper;
      if (!this.asList && !onPaper) { this.view.keepToRoom(); return; }
      if (this.days.playing && !onPaper) return;
      const shown = [];
      for (let i = 0; i < hidden.length; i++) if (!hidden[i]) shown.push(i);
      this.list.show(shown, this._rows());
    }

    _rows() {
      const cells = {};
      for (const theme of this.themes) {
        if (theme.told === ONE_DAY && theme !== this.theme) continue;
        const { classes, symbols } = theme === this.theme ? this : this._painted(theme);
        cells[theme.name] = (i) => ({ code: classes[i], symbol: symbols[classes[i]], word: symbols[classes[i]].word });
      }
      const occupied = this.days.season.codes("occupancy", this.days.day);
      return Object.assign(cells, {
        on: boxround.saidDay(this.days.iso),
        box: (i) => this.base.box[i],
        section: (i) => this.base.sections[this.base.section[i]] || "",
        since: (i) => this.since[i],
        overdue: (i) => this._overdue(i, this._occupancy(occupied[i])),
        why: (i) => this._why(i),
      });
    }

    // Why a box is due, and until when, in a few words; empty where that is not told.
    _why(i) {
      if (!this.dueDay) return "";
      const until = this.dueDay.until[i], why = this.dueDay.why[i];
      return until < 0 ? why : why + ", until " + boxround.shortDay(boxround.isoDay(until));
    }

    _occupancy(code) {
      const theme = this.themes.find((one) => one.column === "occupancy");
      return theme.symbols[theme.class_of[code]];
    }

    _overdue(i, occupancy) {
      return this.since[i] > this.header.visit_every_days && occupancy.word !== "out of service";
    }

    symbolOf(i) { return this.symbols[this.classes[i]]; }

    // What the card of a box is to say of the day shown.
    stateOf(i) {
      const symbol = this._occupancy(this.days.season.codes("occupancy", this.days.day)[i]);
      return { on: this.days.iso, symbol: symbol, since: this.since[i], overdue: this._overdue(i, symbol) };
    }

    _write() {
      boxround.writeAddress({
        day: this.days.iso, theme: this.theme.name, view: this.asList ? "list" : "map",
        box: this.chosen.box, map: this.view.moved ? this.map : null,
      });
    }

    _remember(counts) {
      this._write();
      const said = this.told && !this.dueDay ? this.told.text : boxround.saidDay(this.days.iso) + ": " + this.symbols
        .map((symbol, at) => counts[at] + " " + symbol.word).filter((text) => !text.startsWith("0 ")).join(", ");
      // Set only when it changes: it is read out aloud.
      if (find("said").textContent !== said) find("said").textContent = said;
    }
  }
})();
