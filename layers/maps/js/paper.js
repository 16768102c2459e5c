// Printing: the map drawn anew to the paper's size, with its legend and the list of boxes.
const MOST_ROWS = 1000;

/**
 * The class "printing" gives paper sizes (map.css).
 * @param {import("./main.js").Page} page @param {HTMLDetailsElement} panel @param {HTMLDetailsElement} key
 */
export function onPaper(page, panel, key) {
  const { map, view, list } = page;
  /** @type {(() => void) | null} */
  let undo = null;

  /** @param {L.LatLngBounds | null} bounds */
  function draw(bounds) {
    page.redraw();
    map.invalidateSize({ animate: false });
    if (bounds) map.fitBounds(bounds, { animate: false }); else view.fit();
    view.layer.draw();
  }

  // Chromium prints a canvas drawn just now on white, which hides what is beneath it; so on
  // paper the boxes' canvas holds all of that too.
  /** @param {CanvasRenderingContext2D} pen */
  function under(pen) {
    const own = map.getContainer().getBoundingClientRect();
    for (const piece of /** @type {NodeListOf<HTMLImageElement>} */ (map.getContainer().querySelectorAll("img.leaflet-tile, .leaflet-ground-pane canvas"))) {
      if (piece.naturalWidth === 0) continue; // a tile that did not come
      const at = piece.getBoundingClientRect();
      pen.drawImage(piece, at.left - own.left, at.top - own.top, at.width, at.height);
    }
  }

  function onto() {
    if (undo) return;
    const bounds = view.moved ? map.getBounds() : null, middle = map.getCenter(), zoom = map.getZoom();
    const { zoomSnap } = map.options, { rows } = list;
    // Paper cannot be unfolded.
    const folded = [panel, key].filter((one) => !one.open);
    undo = () => {
      document.documentElement.classList.remove("printing");
      for (const part of folded) part.open = false;
      list.rows = rows;
      map.options.zoomSnap = zoomSnap;
      view.layer.under = null;
      draw(bounds);
      if (bounds) map.setView(middle, zoom, { animate: false });
    };
    for (const part of folded) part.open = true;
    document.documentElement.classList.add("printing");
    list.rows = MOST_ROWS;
    map.options.zoomSnap = 0;
    view.layer.under = under;
    draw(bounds);
    // Only now, since a card is filled anew as it is drawn, each part folded as it was before.
    for (const part of /** @type {NodeListOf<HTMLDetailsElement>} */ (document.querySelectorAll("#card details:not([open])"))) {
      folded.push(part);
      part.open = true;
    }
  }

  function back() {
    if (undo) undo();
    undo = null;
  }

  window.addEventListener("beforeprint", onto);
  window.addEventListener("afterprint", back);
  window.matchMedia("print").addEventListener("change", (event) => (event.matches ? onto() : back()));
}
