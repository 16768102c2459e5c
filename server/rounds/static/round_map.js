// The map of a round: the ground, the way of each walker with its direction, and numbered stops.
const ARROW_APART_PX = 90;
const ARROW_ASIDE_PX = 8;
const DASHES = [null, "12 7", "3 8", "16 6 3 6"];
const COLORS = ["#8a1c4a", "#005a8c", "#00674b", "#7a4a00"];

function icon(className, html, size) {
  return L.divIcon({ className: className, html: html, iconSize: [size, size] });
}

function text(value) {
  const element = document.createElement("span");
  element.textContent = value;
  return element.innerHTML;
}

// The stops of a round, each with all its boxes.
export function stopsOf(round) {
  const stops = new Map();
  for (const stop of round.stops) {
    const key = stop.walker + "-" + stop.order;
    if (stops.has(key)) stops.get(key).boxes.push(stop.box);
    else stops.set(key, { ...stop, key: key, boxes: [stop.box] });
  }
  return [...stops.values()];
}

export class RoundMap {
  constructor(place, round, ground) {
    this.map = L.map(place, { zoomSnap: 0.5, scrollWheelZoom: false, attributionControl: false });
    this.map.on("focus", () => this.map.scrollWheelZoom.enable());
    this.map.on("blur", () => this.map.scrollWheelZoom.disable());
    const lines = round.geometry.coordinates.map((line) => line.map(([lon, lat]) => L.latLng(lat, lon)));
    this.map.fitBounds(L.latLngBounds(lines.flat()), { padding: [28, 28], maxZoom: 18, animate: false });
    boxround.addGround(this.map, ground, false);
    L.control.scale({ imperial: place.dataset.units === "us", metric: place.dataset.units !== "us" }).addTo(this.map);
    this._drawPlaces(ground, round);
    this.lines = lines;
    const walkers = [...new Set(round.stops.map((stop) => stop.walker))];
    lines.forEach((line, i) => this._drawLine(line, walkers[i] - 1));
    this.arrows = L.layerGroup().addTo(this.map);
    this.map.on("moveend", () => this._drawArrows());
    this._drawArrows();
    this.size = place.clientWidth < 500 ? 22 : 26;
    this.walkers = walkers.length;
    this.marks = new Map(stopsOf(round).map((stop) => [stop.key, this._drawStop(stop)]));
  }

  _drawLine(line, walker) {
    const color = COLORS[walker % COLORS.length], dash = DASHES[walker % DASHES.length];
    L.polyline(line, { color: "#fff", weight: 8, opacity: 0.85, interactive: false }).addTo(this.map);
    L.polyline(line, { color: color, weight: 4, dashArray: dash, interactive: false }).addTo(this.map);
  }

  // Arrows beside the line, on the right, so that a way walked out and back shows both.
  _drawArrows() {
    this.arrows.clearLayers();
    const view = this.map.getBounds().pad(0.1);
    for (const line of this.lines) {
      let before = null, gone = ARROW_APART_PX / 2;
      for (const place of line) {
        const here = this.map.project(place);
        if (before) {
          const step = here.subtract(before), length = Math.hypot(step.x, step.y);
          for (; gone <= length; gone += ARROW_APART_PX) {
            const on = before.add(step.multiplyBy(gone / length));
            const at = this.map.unproject(on.add(L.point(-step.y, step.x).multiplyBy(ARROW_ASIDE_PX / length)));
            if (view.contains(at)) this._drawArrow(at, Math.round(Math.atan2(step.y, step.x) * 180 / Math.PI));
          }
          gone -= length;
        }
        before = here;
      }
    }
  }

  _drawArrow(at, turn) {
    const drawn = '<svg viewBox="-8 -8 16 16" width="16" height="16" aria-hidden="true"><path transform="rotate(' + turn + ')" d="M-4 -6L6 0L-4 6Z"/></svg>';
    L.marker(at, { icon: icon("way-arrow", drawn, 16), interactive: false, keyboard: false }).addTo(this.arrows);
  }

  _drawStop(stop) {
    const named = "Stop " + stop.order + ": " + stop.boxes.join(", ");
    const kind = "stop-mark" + (stop.approach !== "open" ? " look" : "") + (this.walkers > 1 ? " walker-" + stop.walker : "");
    const mark = L.marker([stop.lat, stop.lon], {
      icon: icon(kind, String(stop.order), this.size), title: named, keyboard: false,
    }).addTo(this.map);
    mark.on("click", () => {
      const line = document.getElementById("stop-" + stop.key);
      line.scrollIntoView({ block: "center" });
      line.querySelector("a").focus({ preventScroll: true });
    });
    return mark;
  }

  _drawPlaces(ground, round) {
    for (const feature of ground.places.features) {
      const name = feature.properties.name || feature.properties.kind || "", [lon, lat] = feature.geometry.coordinates;
      const end = name === round.from || name === round.to, hazard = feature.properties.kind === "hazard";
      if (!end && !hazard) continue;
      const mark = L.marker([lat, lon], {
        icon: icon(end ? "end-mark" : "hazard-mark", text(end ? "\u2302" : "!"), 24), interactive: false, keyboard: false, zIndexOffset: -500,
      }).addTo(this.map);
      mark.bindTooltip(text(name), { permanent: true, direction: "right", offset: [12, 0], className: "place-name" });
    }
  }

  showDone(isDone) {
    for (const [key, mark] of this.marks) mark.getElement().classList.toggle("done", isDone(key));
  }

  showNext(key) {
    for (const [other, mark] of this.marks) mark.getElement().classList.toggle("next", other === key);
  }

  showPosition(lat, lon, accuracyM) {
    const here = L.latLng(lat, lon);
    if (!this.here) {
      this.around = L.circle(here, { radius: accuracyM, weight: 1, color: "#005a8c", fillOpacity: 0.12, interactive: false }).addTo(this.map);
      this.here = L.marker(here, { icon: icon("here-mark", "", 20), title: "You are here", keyboard: false, interactive: false }).addTo(this.map);
    }
    this.around.setLatLng(here).setRadius(accuracyM);
    this.here.setLatLng(here);
    if (!this.map.getBounds().pad(-0.15).contains(here)) this.map.panTo(here);
  }
}
