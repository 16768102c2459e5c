// The part of the page's address behind "#": what is shown, so that it can be passed on.
"use strict";

(function () {
  // The 31st of February is none, though a browser may read it as one in March.
  const isDay = (text) => /^\d{4}-\d\d-\d\d$/.test(text) && Number.isFinite(Date.parse(text)) && boxround.isoDay(boxround.dayNumber(text)) === text;

  boxround.readAddress = function () {
    const asked = new URLSearchParams(location.hash.slice(1));
    const at = (asked.get("at") || "").split("/").map(Number);
    const fits = at.length === 3 && at.every(Number.isFinite) && at[0] >= 0 && at[0] <= 22 && Math.abs(at[1]) <= 85 && Math.abs(at[2]) <= 360;
    const day = asked.get("day") || "";
    return {
      day: isDay(day) ? day : null,
      theme: asked.get("theme"),
      view: asked.get("view") === "list" ? "list" : "map",
      box: asked.get("box"),
      at: fits ? { zoom: at[0], place: L.latLng(at[1], at[2]) } : null,
    };
  };

  // `map` only where somebody has moved it; null = it shows the whole trail.
  boxround.writeAddress = function ({ day, theme, view, box, map }) {
    const state = new URLSearchParams({ day: day, theme: theme });
    if (view !== "map") state.set("view", view);
    if (box !== null) state.set("box", box);
    if (map) {
      const middle = map.getCenter();
      state.set("at", [map.getZoom(), middle.lat.toFixed(5), middle.lng.toFixed(5)].join("/"));
    }
    history.replaceState(null, "", "#" + state.toString().replace(/%2F/g, "/"));
  };
})();
