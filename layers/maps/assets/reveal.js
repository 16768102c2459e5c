// Keeps the chosen box in sight when a card lies over part of the map.
"use strict";

(function () {
  // Room for the box's mark and its id.
  const MARGIN = 72;

  const nearer = (at, from, to) => {
    const margin = Math.min(MARGIN, (to - from) / 2);
    return at - Math.max(from + margin, Math.min(to - margin, at));
  };

  boxround.reveal = function (map, place, card) {
    const own = map.getContainer().getBoundingClientRect(), over = card.getBoundingClientRect();
    if (!own.width || !own.height) return;
    // A card at the side leaves what is left of it; one along the bottom, what is above.
    const atSide = over.left - own.left > own.width / 4;
    const right = atSide ? Math.min(own.width, over.left - own.left) : own.width;
    const bottom = atSide ? own.height : Math.min(own.height, over.top - own.top);
    const point = map.latLngToContainerPoint(place);
    map.panBy([nearer(point.x, 0, right), nearer(point.y, 0, bottom)], { animate: false });
  };
})();
