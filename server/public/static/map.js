// The public map: one symbol a cell, from the data that stands in the page.
(function () {
  "use strict";
  const frame = document.getElementById("map");
  if (!frame || !window.L) return;
  const drawn = JSON.parse(document.getElementById("drawn").textContent);
  frame.hidden = false;
  const map = L.map(frame, { zoomControl: false, zoomSnap: 0.25, attributionControl: false, maxZoom: 19 });
  const colours = { habitat: "#cfe3c6", building: "#d8d2c4", water: "#bcdcf0" };

  function element(kind, words, of) {
    const made = document.createElement(kind);
    made.textContent = words;
    if (of) of.appendChild(made);
    return made;
  }

  function named(shape) {
    return [shape.name, shape.kind].filter(Boolean).join(", ");
  }

  function corners(cell) {
    return L.latLngBounds([cell.bounds[1], cell.bounds[0]], [cell.bounds[3], cell.bounds[2]]);
  }

  function together(cells) {
    return cells.reduce((all, cell) => all.extend(corners(cell)), L.latLngBounds([]));
  }

  function counted(number, one, many) {
    return `${number} ${number === 1 ? one : many}`;
  }

  function said(cell) {
    const card = document.createElement("div");
    element("h3", counted(cell.boxes, "box", "boxes"), card);
    element("p", cell.place, card);
    element("p", `${counted(cell.nested, "box", "boxes")} with a nest that is over this season`, card);
    if (cell.in_use !== null) element("p", `${counted(cell.in_use, "box", "boxes")} in use`, card);
    element("p", `${counted(cell.nests, "nest", "nests")} told of all seasons`, card);
    if (cell.species.length) element("p", cell.species.join(", "), card);
    return card;
  }

  const finest = Math.min(...drawn.cells.map((cell) => cell.size_deg));
  const near = together(drawn.cells.filter((cell) => cell.size_deg === finest));
  const all = together(drawn.cells);
  // Leaflet makes a marker's element only once the map has a view.
  map.fitBounds(near, { padding: [20, 20] });

  for (const zone of drawn.zones) {
    L.geoJSON(zone.shape, { style: { color: "#4c5a54", weight: 1, fillColor: colours[zone.kind], fillOpacity: 0.8 } })
      .bindTooltip(element("span", named(zone))).addTo(map);
  }
  for (const path of drawn.paths) {
    L.geoJSON(path.shape, { style: { color: "#6d5d3f", weight: 3 } })
      .bindTooltip(element("span", named(path)), { sticky: true }).addTo(map);
  }
  for (const place of drawn.places) {
    L.circleMarker([place.lat, place.lon], { radius: 6, color: "#1d2a26", fillColor: "#e69f00", fillOpacity: 1 })
      .bindTooltip(element("span", named(place))).addTo(map);
  }
  const edges = new Map();
  for (const cell of drawn.cells) {
    const [west, south, east, north] = cell.bounds;
    const coarse = cell.size_deg > finest;
    if (!coarse) {
      L.rectangle(corners(cell), { interactive: false, color: "#1d2a26", weight: 1.5, fillColor: "#fff", fillOpacity: 0.4 }).addTo(map);
      continue;
    }
    // Neighbours share an edge; drawn twice, its dashes would close up.
    for (const edge of [[south, west, south, east], [north, west, north, east], [south, west, north, west], [south, east, north, east]]) {
      edges.set(edge.join(), [edge.slice(0, 2), edge.slice(2)]);
    }
  }
  L.polyline([...edges.values()], { interactive: false, color: "#4c5a54", weight: 2.5, dashArray: "9 8" }).addTo(map);

  function icon(cell, roomy) {
    const inside = document.createElement("div");
    element("div", roomy ? counted(cell.boxes, "box", "boxes") : cell.boxes, inside);
    if (roomy && cell.nested) element("small", `${cell.nested} nested`, inside);
    if (roomy && cell.in_use) element("small", `${cell.in_use} in use`, inside);
    const classes = ["badge"].concat(cell.nested ? "nested" : [], cell.in_use ? "used" : []);
    const lines = roomy && cell.nested && cell.in_use ? 3 : 2;
    return L.divIcon({ className: classes.join(" "), html: inside, iconSize: roomy ? [110, 18 * lines + 16] : [44, 44] });
  }

  const markers = drawn.cells.map((cell) => {
    const words = `${counted(cell.boxes, "box", "boxes")}, ${cell.nested} nested, in the cell at ${cell.place}`;
    const marker = L.marker([cell.lat, cell.lon], { icon: icon(cell, false), title: words, riseOnHover: true });
    marker.bindPopup(said(cell), { maxWidth: 260 }).addTo(map);
    return { cell, marker, words, roomy: null };
  });

  function fitMarkers() {
    for (const one of markers) {
      const [west, south, east, north] = one.cell.bounds;
      const corner = map.latLngToContainerPoint([south, east]).subtract(map.latLngToContainerPoint([north, west]));
      const roomy = corner.x >= 126 && corner.y >= 80;
      if (roomy !== one.roomy) {
        one.roomy = roomy;
        one.marker.setIcon(icon(one.cell, roomy));
        one.marker.getElement().setAttribute("aria-label", one.words);
      }
    }
  }
  map.on("zoomend", fitMarkers);
  fitMarkers();
  L.control.zoom({ position: "topleft" }).addTo(map);
  L.control.scale({ position: "bottomleft", maxWidth: 140 }).addTo(map);
  if (!near.equals(all)) {
    const whole = L.control({ position: "topright" });
    whole.onAdd = function () {
      const bar = L.DomUtil.create("div", "leaflet-bar");
      const button = element("button", "All cells", bar);
      button.type = "button";
      button.className = "all";
      L.DomEvent.disableClickPropagation(bar);
      button.addEventListener("click", () => map.fitBounds(all, { padding: [20, 20] }));
      return bar;
    };
    whole.addTo(map);
  }
})();
