// The ground beneath the boxes, drawn from the trail itself: zones, paths and places.
"use strict";

(function () {
  const ZONES = {
    water: { fillColor: "#bcd9e6", color: "#5b93ad", weight: 1.2, fillOpacity: 1 },
    building: { fillColor: "#b9a998", color: "#6d5d4c", weight: 1, fillOpacity: 1 },
    habitat: { fillColor: "#dfe6cc", color: "#b9c79b", weight: 1, fillOpacity: 1 },
    keep_out: { fillColor: "#efd9c6", color: "#9c4a1a", weight: 2, dashArray: "6 5", fillOpacity: 0.75 },
  };
  const WOODED = /wood|forest|hedge|orchard|thicket/i;
  const ORDER = ["habitat", "water", "keep_out", "building"];

  function zoneStyle(feature) {
    const kind = feature.properties.kind, style = ZONES[kind] || ZONES.habitat;
    const words = (feature.properties.detail || "") + " " + (feature.properties.name || "");
    return kind === "habitat" && WOODED.test(words)
      ? Object.assign({}, style, { fillColor: "#c6d7b0", color: "#9db584" }) : style;
  }

  function pathStyle(feature) {
    const p = feature.properties, closed = p.open_to === "closed", team = p.open_to === "team";
    return {
      color: closed ? "#9c8f7e" : "#7a5a34",
      weight: p.kind === "road" || p.kind === "track" ? 4 : 2.5,
      dashArray: closed ? "2 6" : team ? "8 5" : null,
      lineCap: "round",
    };
  }

  const casing = (feature) => ({
    color: feature.properties.level > 0 ? "#3d2f1d" : "#fbf9f3",
    weight: pathStyle(feature).weight + (feature.properties.level > 0 ? 4 : 3),
    lineCap: "butt",
  });

  // Names to write on the map, the more useful ones first.
  function names(ground) {
    const marks = { start: "\u25b6 ", hazard: "\u26a0 ", landmark: "" };
    const places = ground.places.features.map((place) => ({
      at: L.latLng(place.geometry.coordinates[1], place.geometry.coordinates[0]),
      text: (marks[place.properties.kind] || "") + (place.properties.name || ""), kind: place.properties.kind,
    }));
    const zones = ground.zones.features.filter((zone) => zone.properties.kind !== "building").map((zone) => ({
      at: L.geoJSON(zone).getBounds().getCenter(), kind: zone.properties.kind,
      text: (zone.properties.kind === "keep_out" ? "Keep out: " : "") + (zone.properties.name || ""),
    }));
    return places.concat(zones).filter((name) => name.text);
  }

  boxround.addGround = function (map, ground) {
    map.createPane("ground").style.zIndex = 250;
    const renderer = L.canvas({ pane: "ground", padding: 0.4 });
    const plain = { pane: "ground", renderer: renderer, interactive: false };
    const zones = ground.zones.features.slice().sort(
      (a, b) => ORDER.indexOf(a.properties.kind) - ORDER.indexOf(b.properties.kind));
    L.geoJSON(zones, Object.assign({ style: zoneStyle }, plain)).addTo(map);
    const paths = ground.paths.features.slice().sort(
      (a, b) => (a.properties.level || 0) - (b.properties.level || 0));
    for (const path of paths) {
      L.geoJSON(path, Object.assign({ style: casing }, plain)).addTo(map);
      L.geoJSON(path, Object.assign({ style: pathStyle }, plain)).addTo(map);
    }
    return { bounds: L.geoJSON(paths.concat(zones)).getBounds(), names: names(ground) };
  };
})();
