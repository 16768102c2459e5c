// The map itself: the ground, the boxes on it, its buttons, and which part of it is in sight.
"use strict";

(function () {
  const make = (...given) => boxround.make(...given);

  const EDGE_PX = 14;

  // Whether somebody asks for less motion.
  boxround.calm = () => window.matchMedia("(prefers-reduced-motion: reduce)").matches;

  // What the map may animate.
  boxround.motion = function () {
    const moves = !boxround.calm();
    return { zoomAnimation: moves, fadeAnimation: moves, inertia: moves };
  };

  boxround.MapView = class {
    constructor(map, base, ground, tiles) {
      this.map = map;
      // A card lies at the right; on a phone the thumb reaches the bottom.
      this.phone = window.matchMedia("screen and (max-width: 899px)");
      if (tiles) L.tileLayer(tiles.url, { attribution: make("span", {}, tiles.attribution).innerHTML }).addTo(map);
      map.attributionControl.setPrefix(false);
      const metric = base.header.units !== "us";
      L.control.scale({ position: "bottomleft", imperial: !metric, metric: metric }).addTo(map);
      const drawn = boxround.addGround(map, ground, Boolean(tiles));
      this.layer = new boxround.BoxLayer(base, drawn.names).addTo(map);
      const boxes = this.layer.bounds();
      this.whole = boxes.isValid() ? boxes : drawn.bounds;
      this._addButtons();
      this.fit();
      new ResizeObserver(() => this.keepToRoom()).observe(map.getContainer());
      map.getContainer().setAttribute("aria-label", "Map of the boxes. The list view tells the same in words.");
      map.getContainer().setAttribute("role", "application");
    }

    _addButtons() {
      const corner = () => (this.phone.matches ? "bottomright" : "topleft");
      const zoom = L.control.zoom({ position: corner() }).addTo(this.map), fit = L.control({ position: corner() });
      fit.onAdd = () => {
        const button = make("button", { type: "button", className: "fit", title: "Show the whole trail", "aria-label": "Show the whole trail" }, "\u2922");
        L.DomEvent.disableClickPropagation(button);
        button.addEventListener("click", () => this.fit());
        return button;
      };
      fit.addTo(this.map);
      this.phone.addEventListener("change", () => { for (const control of [zoom, fit]) control.setPosition(corner()); });
    }

    // Show the whole trail, the symbols at its edges whole too.
    fit() {
      const size = this.map.getSize(), edge = Math.max(0.03, EDGE_PX / Math.max(1, Math.min(size.x, size.y)));
      this.fitting = true;
      if (this.whole.isValid()) this.map.fitBounds(this.whole.pad(edge), { maxZoom: 17, animate: false });
      this.fitting = this.moved = false;
    }

    // Keep to the room there is, which folding the panel, the list in its place or a turned phone changes.
    keepToRoom() {
      const room = this.map.getContainer(), before = this.map.getSize();
      if (!room.clientWidth || !room.clientHeight) return;
      this.fitting = true;
      this.map.invalidateSize({ animate: false });
      this.fitting = false;
      if (!this.moved && !before.equals(this.map.getSize())) this.fit();
    }

    // Show one place; `moved` says from now on that somebody chose what is in sight.
    go(place, zoom) {
      this.map.setView(place, zoom, { animate: false });
      this.moved = true;
    }

    onMoved(call) {
      this.map.on("moveend", () => { if (!this.fitting) this.moved = true; call(); });
    }

    // Numbers of the boxes that a press at a point may mean, nearest first: several where they are drawn on top of each other.
    meant(point) {
      const found = this.layer.near(point), first = found.length ? this.layer.place(found[0]) : null;
      const at = (place) => this.map.latLngToContainerPoint(place);
      return found.filter((i) => this.layer.place(i).distanceTo(first) < 1 || at(this.layer.place(i)).distanceTo(at(first)) < 9);
    }
  };
})();
