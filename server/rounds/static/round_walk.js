// On the way: which stop is next, how far it is from here, and what is done.
import { stopsOf } from "./round_map.js";

const KEY = "boxround round done";
const POINTS = ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];
// International yard and pound agreement, 1959; mean radius of the earth, IUGG.
const M_PER_FOOT = 0.3048, M_PER_MILE = 1609.344, EARTH_M = 6371008.8;

function made(tag, more = {}, ...children) {
  const element = Object.assign(document.createElement(tag), more);
  element.append(...children);
  return element;
}

export function saidDistance(metres, units) {
  if (units !== "us") return metres < 999.5 ? Math.round(metres) + " m" : (metres / 1000).toFixed(2) + " km";
  const feet = metres / M_PER_FOOT;
  return feet < 999.5 ? Math.round(feet) + " ft" : (metres / M_PER_MILE).toFixed(2) + " mi";
}

// Metres and compass word from one place to another, near enough to each other to be walked.
export function towards(from, to) {
  const radians = Math.PI / 180, middle = (from.lat + to.lat) / 2 * radians;
  const east = (to.lon - from.lon) * radians * Math.cos(middle), north = (to.lat - from.lat) * radians;
  const bearing = (Math.atan2(east, north) / radians + 360) % 360;
  return { metres: Math.hypot(east, north) * EARTH_M, word: POINTS[Math.round(bearing / 45) % 8] };
}

export class Walking {
  constructor(section, round, map) {
    this.section = section;
    this.round = round;
    this.map = map;
    this.units = section.dataset.units;
    this.stops = stopsOf(round);
    this.done = this._read();
    this.here = null;
    this.buttons = new Map(this.stops.map((stop) => [stop.key, this._addButton(stop)]));
    // Several walkers each open their own walk; only there is one stop the next.
    if (round.walks.filter((walk) => walk.boxes.length).length === 1) this._fill();
    window.addEventListener("storage", (event) => { if (event.key === KEY) { this.done = this._read(); this.show(); } });
    this.show();
  }

  // Boxes done on the day of this round; other days are forgotten.
  _read() {
    try {
      const kept = JSON.parse(localStorage.getItem(KEY));
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

  isDone(stop) {
    return stop.boxes.every((box) => this.done.has(box));
  }

  mark(stop, done) {
    for (const box of stop.boxes) if (done) this.done.add(box); else this.done.delete(box);
    this._write();
    this.show();
  }

  next() {
    return this.stops.find((stop) => !this.isDone(stop)) || null;
  }

  _addButton(stop) {
    const button = made("button", { type: "button", className: "tick", textContent: "Done" });
    button.setAttribute("aria-label", "Done: " + stop.boxes.join(", "));
    button.addEventListener("click", () => this.mark(stop, !this.isDone(stop)));
    document.getElementById("stop-" + stop.key).append(button);
    return button;
  }

  _fill() {
    this.title = made("h2", { id: "next-heading" });
    this.far = made("p", { className: "far" });
    this.how = made("p", { className: "how" });
    this.tick = made("button", { type: "button", className: "button" }, "Done");
    this.tick.addEventListener("click", () => this.mark(this.next(), true));
    this.links = made("span", { className: "links" });
    this.follow = made("button", { type: "button" }, "Follow my position");
    this.follow.addEventListener("click", () => this._follow());
    this.said = made("p", { className: "told" });
    this.said.setAttribute("role", "status");
    this.kept = made("p", { className: "told" });
    this.kept.setAttribute("role", "status");
    this.count = made("p", { className: "count" });
    this.section.append(this.title, this.far, this.how,
      made("div", { className: "line" }, this.tick, this.links, this.follow), this.count, this.said, this.kept);
    this.section.hidden = false;
  }

  sayKept(text) {
    if (this.kept) this.kept.textContent = text;
  }

  say(text) {
    if (this.said) this.said.textContent = text;
  }

  show() {
    for (const stop of this.stops) {
      const done = this.isDone(stop);
      this.buttons.get(stop.key).setAttribute("aria-pressed", String(done));
      document.getElementById("stop-" + stop.key).classList.toggle("done", done);
    }
    const stop = this.next();
    if (this.map) {
      this.map.showDone((key) => this.isDone(this.stops.find((one) => one.key === key)));
      this.map.showNext(this.title && stop ? stop.key : null);
    }
    if (this.title) this._showNext(stop);
  }

  _showNext(stop) {
    const home = this.round.walks.find((walk) => walk.home).home, leg = stop || home;
    this.title.replaceChildren(stop ? "Next: " : "All boxes done. Back to ",
      made("b", {}, stop ? stop.order + ", " + stop.boxes.join(" and ") : this.round.to));
    this.how.textContent = leg.instruction + "." + (stop && stop.approach !== "open" ? " Watch from a distance; do not open." : "");
    this.tick.hidden = !stop;
    this.links.replaceChildren(...(stop ? stop.boxes : []).map((box) => made("a",
      { href: "/boxes/" + encodeURIComponent(box) + "/visit" }, "Record " + box)));
    const done = this.stops.filter((one) => this.isDone(one)).length;
    this.count.textContent = done + " of " + this.stops.length + " stops done.";
    if (this.here && stop) {
      const { metres, word } = towards(this.here, stop);
      this.far.textContent = saidDistance(metres, this.units) + " " + word + " of here";
    } else {
      this.far.textContent = saidDistance(leg.leg_m, this.units) + " " + leg.compass + ", " + Math.max(1, Math.round(leg.leg_minutes)) + " min";
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
      this.say("Your position is known to " + saidDistance(accuracy, this.units) + ".");
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
