// The map on which a place for a box is chosen, and the device's own position.
const NAMED_FROM_ZOOM = 16.5;

const place = document.getElementById("map");
const told = document.getElementById("told");
const here = document.getElementById("here");

function dot(className, content, size) {
  const inside = document.createElement("span");
  inside.textContent = content;
  return L.divIcon({ className: className, html: inside, iconSize: [size, size] });
}

// Judge a place, keeping the species that spots are shown for.
function judge(lat, lon) {
  const asked = new URLSearchParams(location.search);
  asked.set("lat", lat.toFixed(6));
  asked.set("lon", lon.toFixed(6));
  location.assign("/site?" + asked + "#judged");
}

async function fetched(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error("The server answered " + answer.status + ".");
  return answer.json();
}

async function draw() {
  const [ground, boxes] = await Promise.all([fetched("/map/ground"), fetched("/api/boxes?on=" + place.dataset.on)]);
  place.hidden = false;
  const map = L.map(place, { zoomSnap: 0.5, scrollWheelZoom: false, attributionControl: false });
  map.on("focus", () => map.scrollWheelZoom.enable());
  map.on("blur", () => map.scrollWheelZoom.disable());
  const us = place.dataset.units === "us";
  const stand = boxes.features.filter((box) => box.geometry && box.properties.occupancy !== "out of service")
    .map((box) => ({ box: box.id, lat: box.geometry.coordinates[1], lon: box.geometry.coordinates[0] }));
  const spots = JSON.parse(place.dataset.spots);
  const chosen = place.dataset.lat ? [Number(place.dataset.lat), Number(place.dataset.lon)] : null;
  const all = [...stand.map((box) => [box.lat, box.lon]), ...spots, ...(chosen ? [chosen] : [])];
  if (all.length) map.fitBounds(L.latLngBounds(all), { padding: [28, 28], maxZoom: 17, animate: false });
  else map.setView([0, 0], 2);
  boxround.addGround(map, ground, false);
  L.control.scale({ imperial: us, metric: !us }).addTo(map);
  // Names would lie on each other from far away.
  const name = () => place.classList.toggle("named", map.getZoom() >= NAMED_FROM_ZOOM);
  map.on("zoomend", name);
  name();
  for (const box of stand) {
    L.marker([box.lat, box.lon], { icon: dot("box-dot", "", 12), title: "Box " + box.box, interactive: false, keyboard: false })
      .addTo(map).bindTooltip(box.box, { permanent: true, direction: "right", offset: [6, 0], className: "box-name" });
  }
  spots.forEach(([lat, lon], i) => {
    L.marker([lat, lon], { icon: dot("spot-mark", String(i + 1), 26), title: "Spot " + (i + 1), keyboard: false })
      .addTo(map).on("click", () => judge(lat, lon));
  });
  if (chosen) L.marker(chosen, { icon: dot("chosen-mark", "", 30), title: "The place judged", keyboard: false, interactive: false, zIndexOffset: 900 }).addTo(map);
  map.on("click", (event) => judge(event.latlng.lat, event.latlng.lng));
}

here.hidden = false;
here.addEventListener("click", () => {
  if (!window.isSecureContext || !navigator.geolocation) {
    told.textContent = "The browser gives a position only to a page opened with https.";
    return;
  }
  told.textContent = "Waiting for your position.";
  navigator.geolocation.getCurrentPosition(
    (found) => judge(found.coords.latitude, found.coords.longitude),
    () => { told.textContent = "Your position is not known at the moment."; },
    { enableHighAccuracy: true, timeout: 20000 });
});

draw().catch((error) => { told.textContent = "The map could not be loaded. " + error.message; });
