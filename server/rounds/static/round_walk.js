// On the way: which stop is next, how far it is from here, and what is done.
import { find, make, makeButton } from "/static/js/dom.js";
import { stopsOf } from "./round_map.js";

/** @typedef {import("/static/js/types").Stop} Stop */
/** @typedef {{ lat: number, lon: number }} Place */

const KEY = "boxround round done";
const POINTS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
// International yard and pound agreement, 1959; mean radius of the earth, IUGG.
const M_PER_FOOT = 0.3048, M_PER_MILE = 1609.344, EARTH_M = 6371008.8;

/** @param {number} metres @param {string} units */
export function formatDistance(metres, units) {
  if (units !== "us") return metres < 999.5 ? Math.round(metres) + " m" : (metres / 1000).toFixed(2) + " km";
  const feet = metres / M_PER_FOOT;
  return feet < 999.5 ? Math.round(feet) + " ft" : (metres / M_PER_MILE).toFixed(2) + " mi";
}

/** Metres and compass word from one place to another, near enough to each other to be walked. @param {Place} from @param {Place} to */
export function towards(from, to) {
  const radians = Math.PI / 180, middle = (from.lat + to.lat) / 2 * radians;
  const east = (to.lon - from.lon) * radians * Math.cos(middle), north = (to.lat - from.lat) * radians;
  const bearing = (Math.atan2(east, north) / radians + 360) % 360;
  return { metres: Math.hypot(east, north) * EARTH_M, word: POINTS[Math.round(bearing / 45) % 8] };
}

export class Walking {
  /** @param {HTMLElement} section @param {import("/static/js/types").Round} round @param {import("./round_map.js").RoundMap | null} map */
  constructor(section, round, map) {
    this.section = section;
    this.round = round;
    this.map = map;
    this.records = section.dataset.records !== undefined;
    this.units = section.dataset.units || "";
    this.stops = stopsOf(round);
    this.done = this._read();
    /** @type {Place | null} */
    this.here = null;
    this.buttons = new Map(this.stops.map((stop) => [stop.key, this._addButton(stop)]));
    // Several walkers each open their own walk; only there is one stop the next.
    if (round.walks.filter((walk) => walk.boxes.length).length === 1) this._fill();
    window.addEventListener("storage", (event) => { if (event.key === KEY) { this.done = this._read(); this.show(); } });
    this.show();
  }

  /** Boxes done on the day of this round; other days are forgotten. @returns {Set<string>} */
  _read() {
    try {
      const kept = JSON.parse(localStorage.getItem(KEY) || "null");
      return new Set(kept && kept.on === this.round.on ? kept.boxes : []);
    } catch {
      return new Set();
    }
  }

  _write() {
    try {
      localStorage.setItem(KEY, JSON.stringify({ on: this.round.on, boxes: [...this.done] }));
    } catch {
      this.say("This device cannot keep what is done: its storage is full or shut.");
    }
  }

  /** @param {Stop} stop */
  isDone(stop) { return stop.boxes.every((box) => this.done.has(box)); }

  /** @param {Stop} stop @param {boolean} done */
  mark(stop, done) {
    for (const box of stop.boxes) if (done) this.done.add(box); else this.done.delete(box);
    this._write();
    this.show();
  }

  next() { return this.stops.find((stop) => !this.isDone(stop)) || null; }

  /** @param {Stop} stop */
  _addButton(stop) {
    const label = "Done: " + stop.boxes.join(", ");
    const button = makeButton("Done", { className: "tick", "aria-label": label }, () => this.mark(stop, !this.isDone(stop)));
    find("stop-" + stop.key).append(button);
    return button;
  }

  _fill() {
    this.title = make("h2", { id: "next-heading" });
    this.far = make("p", { className: "far" });
    this.how = make("p", { className: "how" });
    /** @type {any} */
    this.tick = makeButton("Done", { className: "button" }, () => { const stop = this.next(); if (stop) this.mark(stop, true); });
    this.links = make("span", { className: "links" });
    /** @type {any} */
    this.follow = makeButton("Follow my position", {}, () => this._follow());
    this.said = make("p", { className: "told", role: "status" });
    this.kept = make("p", { className: "told", role: "status" });
    this.count = make("p", { className: "count" });
    this.section.append(this.title, this.far, this.how,
      make("div", { className: "line" }, this.tick, this.links, this.follow), this.count, this.said, this.kept);
    this.section.hidden = false;
  }

  /** @param {string} text */
  sayKept(text) { if (this.kept) this.kept.textContent = text; }

  /** @param {string} text */
  say(text) { if (this.said) this.said.textContent = text; }

  show() {
    for (const stop of this.stops) {
      const done = this.isDone(stop);
      this.buttons.get(stop.key)?.setAttribute("aria-pressed", String(done));
      find("stop-" + stop.key).classList.toggle("done", done);
    }
    const stop = this.next();
    if (this.map) {
      this.map.showDone((key) => this.stops.some((one) => one.key === key && this.isDone(one)));
      this.map.showNext(this.title && stop ? stop.key : null);
    }
    if (this.title) this._showNext(stop);
  }

  /** @param {Stop | null} stop */
  _showNext(stop) {
    const leg = stop || /** @type {import("/static/js/types").Leg} */ (this.round.walks.find((walk) => walk.home)?.home);
    this.title.replaceChildren(stop ? "Next: " : "All boxes done. Back to ",
      make("b", {}, stop ? stop.order + ", " + stop.boxes.join(" and ") : this.round.to));
    this.how.textContent = leg.instruction + "." + (stop && stop.approach !== "open" ? " Watch from a distance; do not open." : "");
    this.tick.hidden = !stop;
    this.links.replaceChildren(...(stop && this.records ? stop.boxes : []).map((box) => make("a",
      { href: "/boxes/" + encodeURIComponent(box) + "/visit" }, "Record " + box)));
    const done = this.stops.filter((one) => this.isDone(one)).length;
    this.count.textContent = done + " of " + this.stops.length + " stops done.";
    if (this.here && stop) {
      const { metres, word } = towards(this.here, stop);
      this.far.textContent = formatDistance(metres, this.units) + " " + word + " of here";
    } else {
      this.far.textContent = formatDistance(leg.leg_m, this.units) + " " + leg.compass + ", " + Math.max(1, Math.round(leg.leg_minutes)) + " min";
    }
  }

  _follow() {
    if (this.watch !== undefined) {
      navigator.geolocation.clearWatch(this.watch);
      this.watch = undefined;
      this.here = null;
      this.follow.textContent = "Follow my position";
      this.show();
      return;
    }
    if (!window.isSecureContext || !navigator.geolocation) {
      this.say("The browser gives a position only to a page opened with https. The round works without.");
      return;
    }
    this.say("Waiting for your position.");
    this.watch = navigator.geolocation.watchPosition((found) => {
      const { latitude, longitude, accuracy } = found.coords;
      this.here = { lat: latitude, lon: longitude };
      if (this.map) this.map.showPosition(latitude, longitude, accuracy);
      this.say("Your position is known to " + formatDistance(accuracy, this.units) + ".");
      this.show();
    }, (error) => {
      this.say(error.code === error.PERMISSION_DENIED
        ? "Your position is not shared. The round works without it."
        : "Your position is not known at the moment.");
      if (error.code === error.PERMISSION_DENIED) this._follow();
    }, { enableHighAccuracy: true, maximumAge: 5000 });
    this.follow.textContent = "Stop following";
  }
}
