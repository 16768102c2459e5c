// The layer that draws every box on one canvas, and says which boxes lie under a finger.
"use strict";

(function () {
  const NO_PLACE = -2147483648;
  const FINGER = 22;

  // Web Mercator as fractions of the world's width; 32-bit floats would be off by a metre.
  function project(base) {
    const n = base.lon.length, x = new Float64Array(n), y = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      if (base.lon[i] === NO_PLACE) { x[i] = y[i] = NaN; continue; }
      const sine = Math.sin((base.lat[i] / 1e7) * Math.PI / 180);
      x[i] = base.lon[i] / 3.6e9 + 0.5;
      y[i] = 0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI);
    }
    return { x: x, y: y };
  }

  boxround.BoxLayer = L.Layer.extend({
    initialize: function (base, names) {
      this.base = base;
      this.names = names;
      this.world = project(base);
      this.classes = new Uint8Array(base.lon.length);
      this.symbols = [];
      this.hidden = new Uint8Array(base.lon.length);
      this.chosen = -1;
      this.under = null;
    },

    onAdd: function (map) {
      this.canvas = L.DomUtil.create("canvas", "boxes-canvas leaflet-zoom-hide");
      this.getPane().append(this.canvas);
      map.on("moveend zoomend resize", this.draw, this);
      this.draw();
    },

    onRemove: function (map) {
      map.off("moveend zoomend resize", this.draw, this);
      this.canvas.remove();
    },

    bounds: function () {
      const base = this.base, corners = L.latLngBounds([]);
      for (let i = 0; i < base.lon.length; i++) {
        if (base.lon[i] !== NO_PLACE) corners.extend([base.lat[i] / 1e7, base.lon[i] / 1e7]);
      }
      return corners;
    },

    place: function (i) {
      return this.base.lon[i] === NO_PLACE ? null : L.latLng(this.base.lat[i] / 1e7, this.base.lon[i] / 1e7);
    },

    paint: function (classes, symbols, hidden) {
      this.classes = classes;
      this.symbols = symbols;
      this.hidden = hidden;
      if (this._map) this.draw();
    },

    choose: function (i) {
      this.chosen = i;
      if (this._map) this.draw();
    },

    _radius: function () {
      return Math.max(3.2, Math.min(10, (this._map.getZoom() - 9) * 1.25 + 1.5));
    },

    _pictures: function (radius, sharp) {
      const size = Math.ceil(radius * 3.2);
      return this.symbols.map((symbol) => {
        const canvas = document.createElement("canvas");
        canvas.width = canvas.height = size * sharp;
        const pen = canvas.getContext("2d");
        pen.scale(sharp, sharp);
        boxround.drawSymbol(pen, symbol, size / 2, size / 2, radius);
        return { canvas: canvas, size: size };
      });
    },

    draw: function () {
      if (!this.symbols.length) return;
      const map = this._map, size = map.getSize(), sharp = window.devicePixelRatio || 1;
      const canvas = this.canvas, radius = this._radius();
      L.DomUtil.setPosition(canvas, map.containerPointToLayerPoint([0, 0]));
      canvas.width = size.x * sharp;
      canvas.height = size.y * sharp;
      canvas.style.width = size.x + "px";
      canvas.style.height = size.y + "px";
      const pen = canvas.getContext("2d");
      pen.scale(sharp, sharp);
      if (this.under) this.under(pen);
      const scale = 256 * Math.pow(2, map.getZoom()), corner = map.getPixelBounds().min;
      const x = this.world.x, y = this.world.y, classes = this.classes, hidden = this.hidden;
      const pictures = this._pictures(radius, sharp), edge = radius * 2, shown = [];
      for (let i = 0; i < x.length; i++) {
        if (hidden[i]) continue;
        const sx = x[i] * scale - corner.x, sy = y[i] * scale - corner.y;
        // Written so that a box without a place (NaN) fails the test.
        if (!(sx > -edge && sy > -edge && sx < size.x + edge && sy < size.y + edge)) continue;
        const picture = pictures[classes[i]];
        pen.drawImage(picture.canvas, sx - picture.size / 2, sy - picture.size / 2, picture.size, picture.size);
        if (shown.length <= boxround.IDS_AT_MOST) shown.push([this.base.box[i], sx, sy]);
      }
      boxround.label(pen, map, shown, this.names, radius);
      this._mark(pen, scale, corner, radius);
    },

    _mark: function (pen, scale, corner, radius) {
      if (this.chosen < 0) return;
      const sx = this.world.x[this.chosen] * scale - corner.x, sy = this.world.y[this.chosen] * scale - corner.y;
      for (const [width, colour] of [[6, "#fbf9f3"], [3, "#8a1c4a"]]) {
        pen.beginPath();
        pen.arc(sx, sy, radius + 8, 0, 7);
        pen.lineWidth = width;
        pen.strokeStyle = colour;
        pen.stroke();
      }
    },

    // Numbers of the boxes under a point of the map's window, nearest first.
    near: function (point) {
      const scale = 256 * Math.pow(2, this._map.getZoom()), corner = this._map.getPixelBounds().min;
      const found = [];
      for (let i = 0; i < this.world.x.length; i++) {
        if (this.hidden[i]) continue;
        const dx = this.world.x[i] * scale - corner.x - point.x, dy = this.world.y[i] * scale - corner.y - point.y;
        const distance = Math.hypot(dx, dy);
        if (distance <= FINGER) found.push([distance, i]);
      }
      return found.sort((a, b) => a[0] - b[0]).map((pair) => pair[1]);
    },
  });
})();
