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

  const isWooded = (feature) => feature.properties.kind === "habitat" &&
    WOODED.test((feature.properties.detail || "") + " " + (feature.properties.name || ""));

  function zoneStyle(feature) {
    const wooded = isWooded(feature) ? { fillColor: "#c6d7b0", color: "#9db584" } : {};
    return Object.assign({}, ZONES[feature.properties.kind] || ZONES.habitat, wooded);
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

  // Names to write on the map, the more useful ones first. A place without a name keeps its mark.
  function names(ground) {
    const places = ground.places.features.map((place) => ({
      at: L.latLng(place.geometry.coordinates[1], place.geometry.coordinates[0]),
      text: place.properties.name || "", kind: place.properties.kind || "landmark",
    }));
    const zones = ground.zones.features.filter((zone) => zone.properties.kind !== "building").map((zone) => {
      const bounds = L.geoJSON(zone).getBounds(), kind = zone.properties.kind || "zone";
      return { at: bounds.getCenter(), bounds: bounds, kind: kind, text: kind === "keep_out" ? "Keep out" : zone.properties.name || "" };
    });
    return places.concat(zones);
  }

  // Over tiles the zones are drawn thinly, so that the tiles show through.
  boxround.addGround = function (map, ground, overTiles) {
    map.createPane("ground").style.zIndex = 250;
    const renderer = L.canvas({ pane: "ground", padding: 0.4 });
    const plain = { pane: "ground", renderer: renderer, interactive: false };
    const style = (zone) => Object.assign(zoneStyle(zone), overTiles ? { fillOpacity: 0.25 } : {});
    const zones = ground.zones.features.slice().sort(
      (a, b) => ORDER.indexOf(a.properties.kind) - ORDER.indexOf(b.properties.kind));
    L.geoJSON(zones, Object.assign({ style: style }, plain)).addTo(map);
    const paths = ground.paths.features.slice().sort(
      (a, b) => (a.properties.level || 0) - (b.properties.level || 0));
    for (const path of paths) {
      L.geoJSON(path, Object.assign({ style: casing }, plain)).addTo(map);
      L.geoJSON(path, Object.assign({ style: pathStyle }, plain)).addTo(map);
    }
    return { bounds: L.geoJSON(paths.concat(zones)).getBounds(), names: names(ground) };
  };
  boxround.groundStyle = { zone: zoneStyle, path: pathStyle, casing: casing, isWooded: isWooded };
})();
