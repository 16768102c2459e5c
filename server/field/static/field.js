// The field page: the round, a box, the outbox; all from this phone, whether there is a signal or not.
import { find, make, makeButton, refill } from "/static/js/dom.js";
import { stopsOf } from "/static/rounds/round_map.js";
import { BoxView } from "./box.js";
import { openDayMap } from "./day_map.js";
import { keepPage, persist, takeNewer } from "./keep.js";
import { addressOf, showList, wayTo } from "./list.js";
import { Outbox } from "./outbox.js";
import { showSent } from "./sent.js";
import { all, change, get, itemOf, newId, put, remove, takeOver, write } from "./store.js";
import { inWords, localMoment, visitOf, withdrawalOf } from "./visit.js";
import { showTwice } from "./twice.js";
import { showWalkers } from "./walkers.js";
import { Position } from "./way.js";

/** @typedef {import("./store.js").Draft} Draft */
/** @typedef {import("./store.js").Item} Item */
/** @typedef {import("./visit.js").Box} Box */
/** @typedef {{ key: string, query: string, at: string, day: import("./visit.js").Day, round: any, walker: { name: string, fixed_on: string | null } }} Held */
/** What the list and the counts do without, read after them. @typedef {{ key: string, ground: any, keyToSpecies: import("./identify.js").Key }} Beside */

const UNDO_MS = 10000, FETCH_MS = 60000, WATCH_MS = 30000;
const SIGNED_OUT = 401;

class Refused extends Error {
  /** @param {number} status @param {string} message */
  constructor(status, message) { super(message); this.status = status; }
}

/** @param {string} address @returns {Promise<any>} */
async function fetchJson(address) {
  const answer = await fetch(address, { signal: AbortSignal.timeout(FETCH_MS) });
  const body = await answer.json().catch(() => null);
  if (!answer.ok || answer.redirected || body === null) throw new Refused(answer.status, body?.detail || "The server answered " + answer.status);
  return body;
}

export class Field {
  constructor() {
    this.place = find("view");
    this.mapPlace = make("div", { id: "map", className: "day-map" });
    this.position = new Position(() => this._moved());
    this.outbox = new Outbox(() => this.refresh());
    /** @type {Item[]} */
    this.items = [];
    /** @type {{ key: string, date: string, box: string, reason: string }[]} */
    this.skipped = [];
    const none = /** @type {any} */ (undefined);
    /** @type {Held["day"]} */
    this.day = none;
    /** @type {Held["walker"]} */
    this.walker = none;
    /** @type {Held["round"]} */
    this.round = null;
    /** @type {Beside | undefined} */
    this.beside = undefined;
    this.at = "";
    /** @type {import("/static/js/types").Stop[]} */
    this.stops = [];
    /** @type {Map<string, Box>} */
    this.boxes = new Map();
    /** @type {string[]} ids of the boxes of the day, in their order */
    this.order = [];
    this.last = "";
    this.notes = new Map();
    const asked = new URLSearchParams(location.search);
    this.nameAsked = asked.get("name") || "";
    asked.delete("name");
    this.query = asked.toString();
    window.addEventListener("hashchange", () => this.show());
    window.addEventListener("pagehide", () => this.view?.flush());
    document.addEventListener("visibilitychange", () => { if (document.hidden) this.view?.flush(); });
  }

  async start() {
    try {
      await takeOver();
    } catch (error) {
      return refill(this.place, make("p", { className: "mark" }, "This browser keeps nothing for this page (" + /** @type {Error} */ (error).message + "): use the form of a box instead."));
    }
    /** @type {Held | undefined} */
    const held = await get("day", "day");
    if (held && (!this.query || held.query === this.query)) this._take(held);
    if (!this.query && held) this.query = held.query;
    await this.refresh();
    this._takeBeside(await get("day", "beside"));
    await this._fetchDay();
    keepPage(({ kept, newer }) => this._sayKept(kept, newer));
    this.note("persist", await persist().catch(() => ""));
    this.position.resume();
    // The coordinator sees what arrives.
    setInterval(() => { if (location.hash === "#walkers" && !document.hidden) this._fetchDay(); }, WATCH_MS);
    this.outbox.send();
  }

  /** @param {Held} held */
  _take(held) {
    ({ day: this.day, walker: this.walker, round: this.round, at: this.at } = held);
    this.stops = held.round ? stopsOf(held.round) : [];
    this.boxes = new Map(held.day.boxes.map((box) => [box.box, box]));
    this.order = held.round ? this.stops.flatMap(({ boxes }) => boxes).filter((box) => this.boxes.has(box))
      : held.day.boxes.filter((box) => box.due).map((box) => box.box);
    this.outbox.person = held.walker.name;
    this.mapPlace.dataset.units = held.day.units;
    setTimeout(() => this._drawMap(true));
  }

  /** @param {Beside | undefined} beside */
  _takeBeside(beside) {
    this.beside = beside;
    this.view?.showKey();
    setTimeout(() => this._drawMap(true));
  }

  /** The day as it is now: first the boxes, then the round and its map, which may take longer. */
  async _fetchDay() {
    try {
      const [day, walker] = await Promise.all([fetchJson("/field/day"), fetchJson("/field/walker")]);
      await this._keepDay({ day, walker, round: this.day?.on === day.on ? this.round : null });
      const [round, ground, keyToSpecies] = await Promise.all([this.query ? fetchJson("/api/round?" + this.query) : null, fetchJson("/map/ground"), fetchJson("/field/key")]);
      const beside = { key: "beside", ground, keyToSpecies };
      this._takeBeside(beside);
      await this._keepDay({ day, walker, round });
      await put("day", beside);
      this.note("fetch", "");
    } catch (error) {
      if (error instanceof Refused && error.status === SIGNED_OUT) return this._signedOut();
      const why = error instanceof Refused ? error.message : "there is no connection";
      this.note("fetch", !this.day ? "The day could not be fetched: " + why + ". Come here once with a connection."
        
          : this.beside && !(error instanceof Refused) ? "" : "The round could not be fetched: " + why + ".");
    }
    this._sayHeld();
  }

  /** @param {{ day: Held["day"], walker: Held["walker"], round: any }} what */
  async _keepDay(what) {
    const held = { key: "day", query: this.query, at: new Date().toISOString(), ...what };
    this._take(held);
    this._sayHeld();
    await this.refresh();
    await put("day", held);
  }

  /** Places and birds of the trail leave a phone whose access ended; what was recorded on it stays. */
  async _signedOut() {
    await remove("day", "day");
    await remove("day", "beside");
    this.day = /** @type {any} */ (undefined);
    this.outbox.signedOut = true;
    this.note("fetch", "You are not signed in. Visits on this phone stay until you are.", make("a", { href: "/sign-in" }, "Sign in"));
    refill(this.place, make("p", {}, "Sign in to see the round."));
  }

  /** What is recorded and skipped, read anew; then the view, but for a box that somebody fills in. */
  async refresh() {
    [this.items, this.skipped] = await Promise.all([this.outbox.items(), all("skipped")]);
    const open = this.items.filter((item) => item.state !== "sent").length, held = this.items.filter((item) => item.state === "held").length;
    find("count").textContent = held ? "! " + open : open ? String(open) : "✓";
    find("to-sent").setAttribute("aria-label", open ? open + " visits not sent yet" + (held ? ", " + held + " need an answer" : "") : "All visits sent");
    find("to-sent").classList.toggle("held", held > 0);
    if (!this.view || !location.hash.startsWith("#box=")) await this.show();
  }

  today() {
    const now = localMoment(new Date(), this.day?.timezone || "UTC");
    return this.walker?.fixed_on ? { ...now, date: this.walker.fixed_on } : now;
  }

  get observer() { return this.walker?.name || this.nameAsked || localStorage.getItem("boxround observer") || ""; }

  /** @param {string} id @returns {Box | undefined} */
  box(id) { return this.boxes.get(id); }

  /** The newest row that this phone made for a box today, whether sent or not. @param {string} box */
  recorded(box) {
    const { date } = this.today(), own = this.items.filter((item) => item.box === box && item.date === date).at(-1);
    return own && !JSON.parse(own.body).withdraws ? own : undefined;
  }

  /** @param {string} box @returns {{ kind: "saved" | "skipped" | "open", text: string }} */
  stateOf(box) {
    const own = this.recorded(box);
    if (own) return { kind: "saved", text: inWords(JSON.parse(own.body)) };
    const skip = this.skipped.find((one) => one.key === this.today().date + "|" + box);
    return skip ? { kind: "skipped", text: skip.reason } : { kind: "open", text: "" };
  }

  /** The next box of the order that is open, after one and then from the start. @param {string} after @returns {string | null} */
  next(after) {
    const at = this.order.indexOf(after) + 1;
    return [...this.order.slice(at), ...this.order.slice(0, at)].find((box) => box !== after && this.stateOf(box).kind === "open") ?? null;
  }

  async show() {
    this.view?.flush();
    this.view = undefined;
    this.showing = undefined;
    if (!this.day) return;
    const asked = location.hash.startsWith("#box=") ? decodeURIComponent(location.hash.slice(5)) : "";
    const box = this.box(asked);
    find("back").href = "#round";
    find("back").hidden = !location.hash || location.hash === "#round";
    document.body.classList.toggle("at-box", Boolean(box));
    if (box) return this._showBox(box);
    const views = new Map(/** @type {[string, [string, (page: Field, place: HTMLElement) => unknown]][]} */ ([
      ["#sent", ["Visits of this phone", showSent]], ["#walkers", ["Walkers", showWalkers]], ["#twice", ["Same day, different counts", showTwice]]]));
    const other = views.get(location.hash);
    if (other) {
      find("title").textContent = other[0];
      return void other[1](this, this.place);
    }
    find("title").textContent = "In the woods";
    showList(this, this.place);
    // The list can be read and pressed before its map is drawn.
    setTimeout(() => this._drawMap(false));
  }

  /** @param {boolean} anew */
  _drawMap(anew) {
    if (anew && this.map) { this.map.map.remove(); this.map = undefined; }
    if (!this.mapPlace.isConnected || !this.beside) return;
    if (this.map) this.map.map.invalidateSize();
    else this.map = openDayMap(this.mapPlace, this, this.beside.ground);
    this.map.update(this);
  }

  /** @param {Box} box */
  async _showBox(box) {
    const showing = this.showing = {}, kept = await get("drafts", box.box);
    // Another view was opened meanwhile: this one must not take what is tapped there.
    if (this.showing !== showing) return;
    const own = this.recorded(box.box), draft = kept || this._newDraft(box.box, own);
    const number = this.order.indexOf(box.box) + 1;
    find("title").textContent = box.box + (box.name ? " " + box.name : "");
    this.view = new BoxView(this.place, this.day, box, draft, {
      keep: (one) => put("drafts", one),
      save: (one) => this._save(box, one),
      skip: (reason) => this._skip(box, reason),
      discard: async () => { await remove("drafts", box.box); this._showBox(box); },
    }, {
      where: [number ? number + " of " + this.order.length : "", wayTo(this, box, this.last ? this.box(this.last) : undefined)].filter(Boolean).join(" · "),
      earlier: own ? "You recorded: " + inWords(JSON.parse(own.body)) + ". Change it here." : "", observer: this.observer,
      key: () => this.beside?.keyToSpecies ?? null, kept: Boolean(kept),
    });
    find("title").focus({ preventScroll: true });
    window.scrollTo(0, 0);
    if (!own) this._lookForOthers(box);
  }

  /** @param {string} box @param {Item | undefined} own a visit to change @returns {Draft} */
  _newDraft(box, own) {
    const now = this.today();
    if (!own) return { key: box, id: newId(), box, ...now, replaces: "", cells: {} };
    const { visit_id, date, time, replaces, observer, box: _, ...cells } = JSON.parse(own.body);
    // One that was never sent is changed as it is; one that may have been is corrected by a new row.
    return own.tries === 0 ? { key: box, id: visit_id, box, date, time: time || "", replaces: replaces || "", cells }
      : { key: box, id: newId(), box, date, time: time || "", replaces: visit_id, cells };
  }

  /** Whether somebody else was at the box today, where there is a signal. @param {Box} box */
  async _lookForOthers(box) {
    const { date } = this.today(), view = this.view;
    const found = await fetchJson("/api/visits?" + new URLSearchParams({ box: box.box, since: date })).catch(() => null);
    const others = (found?.visits || []).filter((/** @type {any} */ one) => one.seen_on === date && !this.items.some((item) => item.id === one.visit_id));
    if (others.length && this.view === view) view?.showOthers(others);
  }

  /** @param {Box} box @param {Draft} draft */
  async _save(box, draft) {
    let visit = visitOf(draft, this.observer);
    try {
      await write(["outbox", "drafts"], (outbox, drafts) => new Promise((resolve, reject) => {
        const before = outbox.get(draft.id);
        before.onerror = () => reject(before.error);
        before.onsuccess = () => {
          // Sent meanwhile: what changed since is a correction.
          if (before.result?.tries > 0) visit = { ...visit, visit_id: newId(), replaces: draft.id };
          outbox.put(itemOf(visit, { order: before.result?.order ?? Date.now(), by: this.outbox.person, after: Date.now() + UNDO_MS }));
          drafts.delete(draft.key);
          resolve(undefined);
        };
      }));
    } catch (error) {
      if (this.view) this.view.message.textContent = "Not saved: this phone could not keep it (" + /** @type {Error} */ (error).message + ").";
      return;
    }
    this.view = undefined;
    await this._goOn(box);
    this._toast("Saved " + box.box + ": " + inWords(visit) + ".", () => this._undo(draft, visit));
    this.outbox.send();
  }

  /** @param {Draft} draft @param {Record<string, string>} visit */
  async _undo(draft, visit) {
    const taken = await change("outbox", visit.visit_id, (row) => row && row.tries === 0 ? null : undefined);
    if (taken === null) await put("drafts", draft);
    else await put("outbox", itemOf(withdrawalOf(visit, newId()), { by: this.outbox.person }));
    this.last = "";
    await this.refresh();
    if (location.hash === addressOf(draft.box)) await this.show(); else location.hash = addressOf(draft.box);
    this.outbox.send();
  }

  /** Change a visit that the server did not take: it becomes a draft again. @param {Item} item */
  async takeBack(item) {
    const { visit_id, box, date, time, replaces, observer, ...cells } = JSON.parse(item.body);
    await write(["outbox", "drafts"], (outbox, drafts) => {
      drafts.put({ key: box, id: newId(), box, date, time: time || "", replaces: replaces || "", cells });
      outbox.delete(visit_id);
    });
    await this.refresh();
    location.hash = addressOf(box);
  }

  /** @param {Box} box @param {string} reason */
  async _skip(box, reason) {
    const { date } = this.today(), key = date + "|" + box.box, draft = await get("drafts", box.box);
    await write(["skipped", "drafts"], (skipped, drafts) => { skipped.put({ key, date, box: box.box, reason }); drafts.delete(box.box); });
    this.view = undefined;
    await this._goOn(box);
    this._toast("Skipped " + box.box + ": " + reason + ".", async () => {
      await write(["skipped", "drafts"], (skipped, drafts) => { skipped.delete(key); if (draft) drafts.put(draft); });
      await this.refresh();
      location.hash = addressOf(box.box);
    });
  }

  /** @param {Box} box */
  async _goOn(box) {
    this.last = box.box;
    [this.items, this.skipped] = await Promise.all([this.outbox.items(), all("skipped")]);
    const next = this.next(box.box);
    location.hash = next ? addressOf(next) : "#round";
    await this.refresh();
  }

  /** @param {string} text @param {() => void} undo */
  _toast(text, undo) {
    clearTimeout(this.toastTimer);
    const clear = () => refill(find("toast"));
    refill(find("toast"), make("span", {}, text), makeButton("Undo", {}, () => { clear(); undo(); }));
    this.toastTimer = setTimeout(clear, UNDO_MS);
  }

  nameField() {
    if (this.walker?.name) return null;
    const input = make("input", { id: "observer", autocomplete: "name", maxLength: 200 });
    input.value = this.observer;
    input.addEventListener("change", () => localStorage.setItem("boxround observer", input.value.trim()));
    return make("div", { className: "field" }, make("label", { for: "observer" }, "Your name, for every visit"), input);
  }

  /** A line above the view; empty text takes it away. @param {string} key @param {string} text @param {Node} [more] */
  note(key, text, more) {
    if (text) this.notes.set(key, make("p", {}, text, more ? " " : null, more ?? null)); else this.notes.delete(key);
    refill(find("notes"), ...this.notes.values());
  }

  _sayHeld() {
    if (!this.day) return;
    const at = localMoment(new Date(this.at), this.day.timezone), count = this.day.boxes.length;
    this.note("held", count + (count === 1 ? " box" : " boxes") + ", as of " + (at.date === localMoment(new Date(), this.day.timezone).date ? "" : at.date + " ") + at.time + ". " + (this.keptWords || ""));
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
    if (here && this.map) this.map.showPosition(here.lat, here.lon, here.accuracy_m);
    if (!this.day) return;
    if (!this.view) return void this.show();
    const where = this.place.querySelector(".where");
    if (where) where.textContent = where.textContent.split(" · ")[0] + " · " + wayTo(this, this.view.box, this.box(this.last));
  }
}

export const field = new Field();
field.start();
