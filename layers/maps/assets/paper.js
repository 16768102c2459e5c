// Printing: the map drawn anew to the paper's size, with its legend and the list of boxes.
"use strict";

(function () {
  const ROWS_AT_MOST = 1000;

  // `page` offers map, view (a MapView), list and show(); the class "printing" gives paper sizes (map.css).
  boxround.onPaper = function (page, panel, key) {
    const map = page.map;
    let before = null;

    function draw(bounds) {
      page.show();
      map.invalidateSize({ animate: false });
      if (bounds) map.fitBounds(bounds, { animate: false }); else page.view.fit();
      page.view.layer.draw();
    }

    // Chromium prints a canvas drawn just now on white, which hides what lies beneath it; so on
    // paper the boxes' canvas holds all of that too.
    function under(pen) {
      const own = map.getContainer().getBoundingClientRect();
      for (const piece of map.getContainer().querySelectorAll("img.leaflet-tile, .leaflet-ground-pane canvas")) {
        if (piece.naturalWidth === 0) continue; // a tile that did not come
        const at = piece.getBoundingClientRect();
        pen.drawImage(piece, at.left - own.left, at.top - own.top, at.width, at.height);
      }
    }

    function onto() {
      if (before) return;
      before = {
        panel: panel.open, key: key.open, rows: page.list.rows, snap: map.options.zoomSnap,
        bounds: page.view.moved ? map.getBounds() : null, middle: map.getCenter(), zoom: map.getZoom(),
        folded: document.querySelectorAll("#card details:not([open])"),
      };
      // Paper cannot be unfolded.
      for (const part of [panel, key, ...before.folded]) part.open = true;
      document.documentElement.classList.add("printing");
      page.list.rows = ROWS_AT_MOST;
      map.options.zoomSnap = 0;
      page.view.layer.under = under;
      draw(before.bounds);
    }

    function back() {
      if (!before) return;
      document.documentElement.classList.remove("printing");
      for (const part of before.folded) part.open = false;
      panel.open = before.panel;
      key.open = before.key;
      page.list.rows = before.rows;
      map.options.zoomSnap = before.snap;
      page.view.layer.under = null;
      draw(before.bounds);
      if (before.bounds) map.setView(before.middle, before.zoom, { animate: false });
      before = null;
    }

    window.addEventListener("beforeprint", onto);
    window.addEventListener("afterprint", back);
    window.matchMedia("print").addEventListener("change", (event) => (event.matches ? onto() : back()));
  };
})();
