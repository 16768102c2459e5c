// The field page: the round, a box, the outbox; all from this phone, whether there is a signal or not.
import { find, make, makeButton, refill, whenIdle } from "/static/js/dom.js";
import { at, named } from "/static/web/base.js";
import { BoxView } from "./box.js";
import { Refused, fetchJson, fetchText } from "./fetching.js";
import { keepPage, persist, takeNewer } from "./keep.js";
import { addressOf, positionLine, showList, wayTo } from "./list.js";
import { Outbox } from "./outbox.js";
import { UNDO_MS, newDraft, save, skip, takeBack, undo } from "./recording.js";
import { showSent } from "./sent.js";
import { all, clear, get, put, remove, takeOver, visitIn } from "./store.js";
import { showTwice } from "./twice.js";
import { inWords, localMoment } from "./visit.js";
import { showWalkers } from "./walkers.js";
import { Walk } from "./walk.js";
import { Position } from "/static/js/way.js";

/** @typedef {import("./store.js").Draft} Draft */
/** @typedef {import("./store.js").Item} Item */
/** @typedef {import("./visit.js").Box} Box */
/** @typedef {import("./walk.js").Fetched & { key: string, query: string, at: string }} Held */
/** What the list and the counts do without, as text. @typedef {{ key: string, ground: string, keyToSpecies: string }} Beside */

const WATCH_MS = 30000;

/** Views beside the list and the box: title, and what draws it. @type {Record<string, [string, (page: Field, place: HTMLElement) => unknown]>} */
const VIEWS = { "#sent": ["Visits of this phone", showSent], "#walkers": ["Walkers", showWalkers], "#twice": ["Same day, different counts", showTwice] };

export class Field {
  constructor() {
    this.place = find("view");
    this.mapPlace = make("div", { id: "map", className: "day-map" });
    this.picturesPlace = make("div", {});
    this.position = new Position(() => this._moved());
    this.outbox = new Outbox(() => this.refresh());
    /** @type {Item[]} */
    this.items = [];
    /** @type {import("./walk.js").Skip[]} */
    this.skipped = [];
    /** @type {Walk} there is none before the first fetch */
    this.walk = /** @type {any} */ (undefined);
    /** @type {Held | undefined} */
    this.held = undefined;
    /** @type {Beside | undefined} */
    this.beside = undefined;
    /** @type {import("./day_map.js").DayMap | undefined} */
    this.map = undefined;
    this.mapIsOld = false;
    this.last = "";
    this.notes = new Map();
    const query = new URLSearchParams(location.search);
    this.nameWanted = query.get("name") || "";
    query.delete("name");
    this.query = query.toString();
    // A view that is open already stays: it may hold a tap that the disk does not hold yet.
    window.addEventListener("hashchange", () => { if (!this.view || this.view.box.box !== this.boxOfAddress()?.box) this.show(); });
    window.addEventListener("pagehide", () => this.view?.flush());
    document.addEventListener("visibilitychange", () => document.hidden ? this.view?.flush() : this.refresh());
  }

  async start() {
    /** @type {Held | undefined} */
    let held;
    try {
      await takeOver();
      held = await get("day", "fetched");
    } catch (error) {
      return refill(this.place, make("p", { className: "mark" }, "This browser keeps nothing for this page (" + /** @type {Error} */ (error).message + "): use the form of a box instead."));
    }
    if (held && (!this.query || held.query === this.query)) this._take(held);
    if (!this.query && held) this.query = held.query;
    await this.refresh();
    whenIdle(() => this._startRest());
  }

  /** What can wait until the list is shown: the map, the worker, the newest day. */
  async _startRest() {
    keepPage(({ kept, newer }) => this._sayKept(kept, newer));
    this.beside = await get("day", "map and key");
    this._drawMap();
    await this._fetchDay();
    this.note("persist", await persist().catch(() => ""));
    this.position.resume();
    // The coordinator sees what arrives.
    setInterval(() => { if (location.hash === "#walkers" && !document.hidden) this._fetchDay(); }, WATCH_MS);
    this.outbox.send();
  }

  /** @param {Held} held */
  _take(held) {
    this.held = held;
    this.walk = new Walk(held);
    this.outbox.person = this.walk.walker.name;
    this.mapPlace.dataset.units = this.walk.day.units;
    this.mapIsOld = true;
    this._sayHeld();
  }

  /** The day as it is now: first the boxes, then the round and its map, which may take longer. */
  async _fetchDay() {
    try {
      const [day, walker] = await Promise.all(["/field/day", "/field/walker"].map((address) => fetchText(at(address))));
      const isSameDay = this.walk && (day === this.held?.day || JSON.parse(day).on === this.walk.day.on);
      await this._keepDay({ day, walker, round: isSameDay && this.held?.round || null });
      const [ground, keyToSpecies, round] = await Promise.all(["/map/ground", "/field/key", ...(this.query ? ["/api/round?" + this.query] : [])].map((address) => fetchText(at(address))));
      if (ground !== this.beside?.ground || keyToSpecies !== this.beside.keyToSpecies) {
        this.beside = { key: "map and key", ground, keyToSpecies };
        this.mapIsOld = true;
        this.view?.showKey();
        await put("day", this.beside);
      }
      await this._keepDay({ day, walker, round: round ?? null });
      this.note("fetch", "");
    } catch (error) {
      const refused = error instanceof Refused ? error : null;
      if (refused?.signedOut) return this._signOut();
      const why = refused ? refused.message : "there is no connection";
      this.note("fetch", !this.walk ? "The day could not be fetched: " + why + ". Come here once with a connection."
        : this.beside && !refused ? "" : "The round could not be fetched: " + why + ".");
    }
    this._drawMap();
  }

  /** @param {import("./walk.js").Fetched} fetched */
  async _keepDay(fetched) {
    const held = { key: "fetched", query: this.query, at: new Date().toISOString(), ...fetched };
    const { day, walker, round, query } = this.held ?? {};
    if (day !== held.day || walker !== held.walker || round !== held.round || query !== held.query) {
      this._take(held);
      await this.refresh();
    }
    this.held = held;
    this._sayHeld();
    await put("day", held);
  }

  /** Places and birds of the trail leave a phone whose access ended; what was recorded on it stays. */
  async _signOut() {
    await clear("day");
    this.walk = /** @type {any} */ (undefined);
    this.held = undefined;
    this.beside = undefined;
    this.outbox.signedOut = true;
    this.note("fetch", "You are not signed in. Visits on this phone stay until you are.", make("a", { href: at("/sign-in") }, "Sign in"));
    refill(this.place, make("p", {}, "Sign in to see the round."));
  }

  /** What is recorded and skipped, read anew; then the view, but for a box whose form is being filled in. */
  async refresh() {
    [this.items, this.skipped] = await Promise.all([this.outbox.items(), all("skipped")]);
    const count = (/** @type {(item: Item) => boolean} */ which) => this.items.filter(which).length;
    const open = count((item) => item.state !== "sent"), held = count((item) => item.state === "held");
    find("count").textContent = held ? "! " + open : open ? String(open) : "✓";
    find("to-sent").setAttribute("aria-label", open ? open + " visits not sent yet" + (held ? ", " + held + " need an answer" : "") : "All visits sent");
    find("to-sent").classList.toggle("held", held > 0);
    this.walk?.mark(this.items, this.skipped);
    if (!this.view || !location.hash.startsWith("#box=")) await this.show();
  }

  get observer() { return this.walk?.walker.name || this.nameWanted || localStorage.getItem(named("boxround observer")) || ""; }

  boxOfAddress() { return location.hash.startsWith("#box=") ? this.walk?.boxes.get(decodeURIComponent(location.hash.slice(5))) : undefined; }

  async show() {
    this.view?.flush();
    this.view = undefined;
    this.showing = undefined;
    if (!this.walk) return;
    const box = this.boxOfAddress();
    find("back").href = "#round";
    find("back").hidden = !location.hash || location.hash === "#round";
    document.body.classList.toggle("at-box", Boolean(box));
    if (box) return this._showBox(box);
    const other = VIEWS[location.hash];
    find("title").textContent = other ? other[0] : "In the woods";
    if (other) return void other[1](this, this.place);
    showList(this, this.place);
    whenIdle(() => this._drawMap());
  }

  /** The list can be read and pressed before its map is there. */
  async _drawMap() {
    if (!this.beside) return;
    try {
      const { drawDayMap } = await import("/static/field/day_map.js");
      await drawDayMap(this);
    } catch {
      this.note("map", "The map could not be loaded: load this page again where there is a connection.");
    }
  }

  /** @param {Box} box */
  async _showBox(box) {
    const showing = this.showing = {}, kept = await get("drafts", box.box);
    // Another view was opened meanwhile: this one must not take what is tapped there.
    if (this.showing !== showing) return;
    const { walk } = this, own = walk.recorded(box.box), number = walk.order.indexOf(box.box) + 1;
    find("title").textContent = box.box + (box.name ? " " + box.name : "");
    this.view = new BoxView(this.place, walk.day, box, kept || newDraft(box.box, own, walk.today()), {
      keep: (one) => put("drafts", one),
      save: (one) => this._save(box, one),
      skip: (reason) => this._skip(box, reason),
      discard: async () => { await remove("drafts", box.box); this.show(); },
    }, {
      where: [number ? number + " of " + walk.order.length : "", wayTo(this, box)].filter(Boolean).join(" · "),
      earlier: own ? "You recorded: " + inWords(visitIn(own)) + ". Change it here." : "", observer: this.observer,
      key: () => this.beside ? JSON.parse(this.beside.keyToSpecies) : null, kept: Boolean(kept),
    });
    find("title").focus({ preventScroll: true });
    window.scrollTo(0, 0);
    if (!own) this._lookForOthers(box);
  }

  /** Whether another observer was at the box today, where there is a signal. @param {Box} box */
  async _lookForOthers(box) {
    const { date } = this.walk.today(), view = this.view;
    const found = await fetchJson(at("/api/visits?") + new URLSearchParams({ box: box.box, since: date })).catch(() => null);
    const others = (found?.visits || []).filter((/** @type {any} */ one) => one.seen_on === date && !this.items.some((item) => item.id === one.visit_id));
    if (others.length && this.view === view) view?.showOthers(others);
  }

  /** @param {Box} box @param {Draft} draft */
  async _save(box, draft) {
    const { person } = this.outbox;
    let visit;
    // A tap between saving and the next box would begin a draft of what is saved.
    this.place.inert = true;
    try {
      visit = await save(draft, this.observer, person);
      await this._goOn(box);
    } catch (error) {
      if (this.view) this.view.message.textContent = "Not saved: this phone could not keep it (" + /** @type {Error} */ (error).message + ").";
      return;
    } finally {
      this.place.inert = false;
    }
    this._toast("Saved " + box.box + ": " + inWords(visit) + ".", async () => {
      await undo(draft, visit, person);
      this.last = "";
      await this._open(box.box);
      this.outbox.send();
    });
    this.outbox.send();
  }

  /** @param {Box} box @param {string} reason */
  async _skip(box, reason) {
    const takeBackSkip = await skip(box.box, this.walk.today().date, reason);
    await this._goOn(box);
    this._toast("Skipped " + box.box + ": " + reason + ".", async () => {
      await takeBackSkip();
      await this._open(box.box);
    });
  }

  /** Change a visit that the server did not take. @param {Item} item */
  async change(item) {
    await takeBack(item);
    await this._open(item.box);
  }

  /** The view of a box, once what is recorded was read anew. @param {string} box */
  async _open(box) {
    await this.refresh();
    if (location.hash === addressOf(box)) await this.show(); else location.hash = addressOf(box);
  }

  /** @param {Box} box */
  async _goOn(box) {
    this.view = undefined;
    this.last = box.box;
    this.walk.mark(await this.outbox.items(), await all("skipped"));
    const next = this.walk.next(box.box);
    location.hash = next ? addressOf(next) : "#round";
    await this.refresh();
  }

  /** @param {string} text @param {() => void} onUndo */
  _toast(text, onUndo) {
    clearTimeout(this.toastTimer);
    const clear = () => refill(find("toast"));
    refill(find("toast"), make("span", {}, text), makeButton("Undo", {}, () => { clear(); onUndo(); }));
    this.toastTimer = setTimeout(clear, UNDO_MS);
  }

  /** A line above the view; empty text takes it away. @param {string} key @param {string} text @param {Node} [more] */
  note(key, text, more) {
    if (text) this.notes.set(key, make("p", {}, text, more ? " " : null, more ?? null)); else this.notes.delete(key);
    refill(find("notes"), ...this.notes.values());
  }

  _sayHeld() {
    if (!this.held) return;
    const { timezone, boxes } = this.walk.day, at = localMoment(new Date(this.held.at), timezone), isToday = at.date === localMoment(new Date(), timezone).date;
    this.note("held", boxes.length + (boxes.length === 1 ? " box" : " boxes") + ", as of " + (isToday ? "" : at.date + " ") + at.time + ". " + (this.keptWords || ""));
  }

  /** @param {boolean} kept @param {ServiceWorker | null} newer */
  _sayKept(kept, newer) {
    this.keptWords = kept ? "Opens without a signal." : "Leave this page open: without a signal it does not open again, since its address is not https.";
    this._sayHeld();
    this.note("newer", newer ? "There is a new version of this page." : "", newer ? makeButton("Load it now", {}, () => { this.view?.flush(); takeNewer(newer); }) : undefined);
    if (!kept) window.onbeforeunload = (event) => { if (this.items.some((item) => item.state !== "sent")) event.preventDefault(); };
  }

  _moved() {
    const { here } = this.position;
    if (here) this.map?.showPosition(here.lat, here.lon, here.accuracy_m);
    this.place.querySelector(".position")?.replaceWith(positionLine(this.position));
    const where = this.view && this.place.querySelector(".where");
    if (this.view && where) where.textContent = where.textContent.split(" · ")[0] + " · " + wayTo(this, this.view.box);
  }
}

export const field = new Field();
field.start();
