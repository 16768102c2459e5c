// The box that is chosen: its card is loaded, opened, kept to the day shown, and closed.
"use strict";

(function () {
  const find = (id) => document.getElementById(id);
  const MOST_TO_CHOOSE = 12;
  // A day's card is asked for only when somebody stays on the day.
  const STAY_MS = 250;

  boxround.Chosen = class {
    // `page` offers base, sources, view (a MapView), days (a DayBar), stateOf(i), symbolOf(i) and show().
    constructor(page) {
      this.page = page;
      this.section = find("card");
      this.i = -1;
      this.card = null;
      document.addEventListener("keydown", (event) => { if (event.key === "Escape" && this.shown) this.close(); });
    }

    get shown() { return !this.section.hidden; }

    get box() { return this.i < 0 ? null : this.page.base.box[this.i]; }

    // Boxes drawn on top of each other: ask which is meant.
    offer(boxes) {
      const close = () => this.close();
      if (boxes.length === 1) { this.open(boxes[0]); return; }
      boxround.fillChooser(this.section, boxes.slice(0, MOST_TO_CHOOSE).map((i) => ({ i: i, box: this.page.base.box[i], symbol: this.page.symbolOf(i) })),
        boxes.length - MOST_TO_CHOOSE, (i) => this.open(i), close);
    }

    async open(i) {
      const page = this.page;
      this.before = this.before && this.before.isConnected ? this.before : document.activeElement;
      if (page.view.phone.matches) find("panel").open = false;
      this.i = i;
      this.card = null;
      page.view.layer.choose(i);
      try {
        const card = await boxround.loadCard(page.sources.card, i, this.box, page.days.iso);
        if (this.i !== i) return;
        this.card = card;
        this.fill();
      } catch (error) {
        if (this.i !== i) return;
        boxround.fillFailed(this.section, this.box, error, () => this.open(i), () => this.close());
      }
      this.section.scrollTop = 0;
      this.section.focus({ preventScroll: true });
      page.show();
      this.reveal();
    }

    // Fill the card anew for the day shown.
    fill() {
      if (!this.card) return;
      const sources = this.page.sources;
      const links = [["Everything about this box", sources.box_page], ["Record a visit", sources.visit_form]]
        .filter(([, address]) => address).map(([words, address]) => [words, address.replace("{box}", encodeURIComponent(this.box))]);
      boxround.fillCard(this.section, this.card, this.page.stateOf(this.i), links, () => this.close());
      this._keepUp(this.i);
    }

    // Where a card can be had for any day, get that of the day shown.
    _keepUp(i) {
      const { sources, days } = this.page, iso = days.iso;
      window.clearTimeout(this.waiting);
      if (this.card.on === iso || this.failed === iso || days.playing || !sources.card.includes("{day}")) return;
      this.waiting = window.setTimeout(async () => {
        const card = await boxround.loadCard(sources.card, i, this.box, iso).catch(() => null);
        this.failed = card ? null : iso;
        if (!card || this.i !== i) return;
        this.card = card;
        this.fill();
      }, STAY_MS);
    }

    reveal() {
      const place = this.i < 0 || !this.shown ? null : this.page.view.layer.place(this.i);
      if (place) boxround.reveal(this.page.view.map, place, this.section);
    }

    close() {
      this.section.hidden = true;
      this.i = -1;
      this.card = null;
      this.page.view.layer.choose(-1);
      // What was pressed may be folded away by now; then the map takes the focus.
      const seen = this.before && this.before.isConnected && this.before.checkVisibility();
      (seen ? this.before : this.page.view.map.getContainer()).focus({ preventScroll: true });
      this.before = null;
      this.page.show();
    }
  };
})();
