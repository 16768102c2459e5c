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
      this._choose(-1);
      boxround.fillChooser(this.section, boxes.slice(0, MOST_TO_CHOOSE).map((i) => ({ i: i, box: this.page.base.box[i], symbol: this.page.symbolOf(i) })),
        boxes.length - MOST_TO_CHOOSE, (i) => this.open(i), close);
      this.page.show();
    }

    // From now on box `i` is chosen, -1 = none; what was under way for another is of no use.
    _choose(i) {
      if (!this.section.contains(document.activeElement)) this.before = document.activeElement;
      this.i = i;
      this.card = this.filled = this.asked = null;
      window.clearTimeout(this.waiting);
      this.page.view.layer.choose(i);
    }

    async open(i) {
      const page = this.page;
      this._choose(i);
      if (page.view.phone.matches) find("panel").open = false;
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

    // Fill the card anew where the day shown, or what is known of it, is another.
    fill() {
      if (!this.card) return;
      const sources = this.page.sources, state = this.page.stateOf(this.i);
      this._keepUp(this.i);
      const told = JSON.stringify([this.card.on, state]);
      if (this.filled === told) return;
      this.filled = told;
      const links = [["Everything about this box", sources.box_page], ["Record a visit", sources.visit_form]]
        .filter(([, address]) => address).map(([words, address]) => [words, address.replace("{box}", encodeURIComponent(this.box))]);
      boxround.fillCard(this.section, this.card, state, links, () => this.close());
    }

    // Where a card can be had for any day, get that of the day shown.
    _keepUp(i) {
      const { sources, days } = this.page, iso = days.iso;
      if (this.asked === iso) return; // under way, or it failed
      window.clearTimeout(this.waiting);
      this.asked = null;
      if (this.card.on === iso || days.playing || !sources.card.includes("{day}")) return;
      this.asked = iso;
      this.waiting = window.setTimeout(async () => {
        const card = await boxround.loadCard(sources.card, i, this.box, iso).catch(() => null);
        if (!card || this.i !== i || this.asked !== iso) return;
        this.card = card;
        this.fill();
      }, STAY_MS);
    }

    reveal() {
      const place = this.i < 0 || !this.shown ? null : this.page.view.layer.place(this.i);
      if (place) boxround.reveal(this.page.view.map, place, this.section);
    }

    close() {
      if (!this.shown && this.i < 0) return;
      this._choose(-1);
      this.section.hidden = true;
      this.page.show();
      this._giveBack();
    }

    // The keyboard goes back to what was pressed; if that is gone or folded away by now, to the map or the list.
    _giveBack() {
      const pressed = this.before && (this.before.isConnected ? this.before : document.getElementById(this.before.id));
      const places = [pressed, this.page.view.map.getContainer(), find("list-view")];
      places.find((one) => one && one !== document.body && one.checkVisibility()).focus({ preventScroll: true });
    }
  };
})();
