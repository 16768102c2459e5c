// How far a box is, and which way.

/** @typedef {{ lat: number, lon: number }} Place */

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

/** Follows where the device is, once a person agreed to it. */
export class Position {
  /** @param {() => void} moved */
  constructor(moved) {
    this.moved = moved;
    /** @type {(Place & { accuracy_m: number }) | null} */
    this.here = null;
    this.message = "";
  }

  /** Without a question, where the person agreed before. */
  async resume() {
    const granted = await navigator.permissions?.query({ name: "geolocation" }).then(({ state }) => state === "granted", () => false);
    if (granted) this.follow();
  }

  get following() { return this.watch !== undefined; }

  follow() {
    if (!window.isSecureContext || !navigator.geolocation) {
      this.message = "The browser gives a position only to a page opened with https. The page works without.";
      return this.moved();
    }
    this.message = "Waiting for your position.";
    this.watch = navigator.geolocation.watchPosition(({ coords }) => {
      this.here = { lat: coords.latitude, lon: coords.longitude, accuracy_m: coords.accuracy };
      this.message = "";
      this.moved();
    }, (error) => {
      this.message = error.code === error.PERMISSION_DENIED ? "Your position is not shared. The page works without it." : "Your position is not known at the moment.";
      if (error.code === error.PERMISSION_DENIED) this.stop();
      this.moved();
    }, { enableHighAccuracy: true, maximumAge: 5000 });
    this.moved();
  }

  stop() {
    if (this.watch !== undefined) navigator.geolocation.clearWatch(this.watch);
    this.watch = undefined;
    this.here = null;
    this.moved();
  }
}
