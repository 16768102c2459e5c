// What the map's scripts compute; what they draw is tested in a browser.
import assert from "node:assert/strict";
import test from "node:test";
import { addressOf, readAddress } from "/static/js/address.js";
import { columnsOf, project } from "/static/js/boxes.js";
import { Cells, NO_PLACE, WORLD } from "/static/js/clusters.js";
import { eggWords, firstEggs, inYears } from "/static/js/eggs.js";
import { degreeWords, roundStep } from "/static/js/graticule.js";
import { spread } from "/static/js/spread.js";
import { holdsOn, lastVisit } from "/static/js/card.js";
import { shift } from "/static/js/chosen.js";
import { dayNumber, formatDay, isDay, isoDay, shortDay } from "/static/js/days.js";
import { findBox, offered } from "/static/js/finder.js";
import { pathWord, zoneWord } from "/static/js/key.js";
import { LOOKS } from "/static/js/look.js";
import { beside, Room, within } from "/static/js/labels.js";
import { daysAgo, sorted } from "/static/js/list.js";
import { Texts, unpack } from "/static/js/packed.js";
import { Season } from "/static/js/seasons.js";
import { roomInBand } from "/static/js/strip.js";

test("days are whole numbers, and words with their weekday", () => {
  assert.equal(dayNumber("1970-01-02"), 1);
  assert.equal(isoDay(dayNumber("2026-03-29")), "2026-03-29");
  assert.equal(formatDay("2026-06-03"), "Wed 3 June 2026");
  assert.equal(shortDay(dayNumber("2024-02-29")), "Thu 29 Feb");
  assert.deepEqual(["2024-02-29", "2026-02-29", "2026-2-9", "soon"].map(isDay), [true, false, false, false]);
});

test("an address is read as it was written", () => {
  const shown = { day: "2026-06-03", theme: "due", view: "list", box: "A / 1&", at: { zoom: 16.5, lat: 42.6, lon: -77.9 } };
  assert.deepEqual(readAddress(addressOf(shown)), shown);
  const nothing = { day: null, theme: null, view: "map", box: null, at: null };
  assert.deepEqual(readAddress("#day=2026-02-31&at=99/0/0&view=moon"), nothing);
  assert.equal(readAddress("#at=3/95/0").at, null);
  assert.equal(addressOf({ day: "2026-06-03", theme: "due", view: "map", box: null, at: null }), "#day=2026-06-03&theme=due");
});

test("boxes are projected to Web Mercator, and those without a place nowhere", () => {
  const boxes = columnsOf([{ box: "A", lat: 0, lon: 0 }, { box: "B", lat: 85.0511288, lon: 180 }]);
  boxes.lon = Int32Array.from([...boxes.lon, NO_PLACE]);
  boxes.lat = Int32Array.from([...boxes.lat, 0]);
  const { x, y } = project(boxes);
  // The square of Web Mercator ends at 85.0511288 degrees (EPSG:3857).
  assert.deepEqual([x[0], y[0], x[1]], [0, -0, WORLD / 2].map((one) => one + 0));
  assert.ok(Math.abs(y[1] + WORLD / 2) < 3);
  assert.deepEqual([x[2], y[2]], [NO_PLACE, NO_PLACE]);
});

test("parts of a card hold from a day until before another", () => {
  const part = { from: "2026-05-01", to: "2026-05-03" };
  assert.deepEqual(["2026-04-30", "2026-05-01", "2026-05-02", "2026-05-03"].map((day) => holdsOn(part, day)), [false, true, true, false]);
  assert.deepEqual(["2026-05-01", "2026-05-02"].map((day) => holdsOn({ except: "2026-05-01" }, day)), [false, true]);
  assert.equal(lastVisit({ since: -1, overdue: false }), "Not visited this season.");
  assert.equal(lastVisit({ since: 1, overdue: true }), "Last visit 1 day before. \u26a0 Overdue for a visit.");
  assert.deepEqual([-1, 0, 1, 9].map(daysAgo), ["none this season", "on this day", "1 day ago", "9 days ago"]);
});

test("the map moves no further than a chosen box needs", () => {
  assert.deepEqual([shift(200, 0, 400), shift(10, 0, 400), shift(390, 0, 400), shift(0, 0, 40)], [0, -62, 62, -20]);
});

test("a box is found as it is written, else in other capitals", () => {
  const ids = ["ZZ1", "zz1", "A2"];
  assert.deepEqual(["zz1", "ZZ1", "Zz1", "a2", "B"].map((typed) => findBox(ids, typed)), [1, 0, 0, 2, -1]);
  assert.deepEqual(offered(ids, "z1"), ["ZZ1", "zz1"]);
  assert.deepEqual(offered(ids, ""), []);
});

test("the key names ground by kind, and closed paths", () => {
  const of = (properties) => ({ properties });
  assert.deepEqual([{ kind: "water" }, { kind: "habitat", name: "Oak Wood" }, { kind: "habitat", name: "Meadow" }].map((one) => zoneWord(of(one))),
    ["water", "trees and hedges", "open ground"]);
  assert.deepEqual([{ level: 1 }, { kind: "road" }, { kind: "path", open_to: "closed" }, { open_to: "team" }].map((one) => pathWord(of(one))),
    ["bridge", "road or track", "path, closed", "path, for the team only"]);
});

test("words are written only where there is room", () => {
  const room = new Room(100, 100);
  assert.deepEqual(room.take(40, beside(50, 50, 5, 40)), [59, 50]);
  assert.deepEqual(room.take(40, beside(50, 50, 5, 40)), [1, 50]);
  assert.equal(room.take(200, [[0, 50]]), undefined);
  assert.deepEqual(within(50, 50, [30, 30], 100), []);
  assert.deepEqual(within(50, 50, [80, 30], 40), [[30, 50]]);
});

test("the list sorts by words with their numbers, and by the longest wait", () => {
  const rows = { box: (i) => ["A10", "A2", "B1"][i], since: (i) => [3, 9, 9][i] };
  assert.deepEqual(sorted([0, 1, 2], "box", false, rows), [1, 0, 2]);
  assert.deepEqual(sorted([0, 1, 2], "box", true, rows), [2, 0, 1]);
  assert.deepEqual(sorted([0, 1, 2], "since", false, rows), [1, 2, 0]);
});

test("a season knows each box's state on each day, and counts the classes", () => {
  const season = new Season({
    header: { season: 2026, first_day: "2026-01-01", days: 5 },
    changes: Uint16Array.of(2, 1), gap: Uint8Array.of(0, 2, 0), state: Uint8Array.of(0, 1, 1), occupancy: Uint8Array.of(0, 1),
    species: Uint8Array.of(0, 0), fate: Uint8Array.of(0, 0), visits: Uint16Array.of(1, 0), visit_gap: Uint8Array.of(2),
  });
  assert.deepEqual([...season.codes("occupancy", 1)], [0, 1]);
  assert.deepEqual([...season.codes("occupancy", 2)], [1, 1]);
  assert.deepEqual([...season.daysSinceVisit(4)], [2, -1]);
  const theme = { column: "occupancy", class_of: [0, 1], symbols: [{}, {}] };
  assert.deepEqual(season.counts(theme, Uint8Array.of(0, 0)).map((own) => [...own].slice(0, 5)), [[1, 1, 0, 0, 0], [1, 1, 2, 2, 2]]);
  assert.deepEqual(season.counts(theme, Uint8Array.of(1, 0))[1][4], 1);
  assert.deepEqual(season.window(), [0, 4]);
});

test("days far apart are carried over and are no entry themselves", () => {
  const season = new Season({
    header: { season: 2026, first_day: "2026-01-01", days: 365 },
    changes: Uint16Array.of(3), gap: Uint8Array.of(0, 255, 45), state: Uint8Array.of(1, 0, 2), occupancy: Uint8Array.of(0, 1, 2),
    species: new Uint8Array(3), fate: new Uint8Array(3), visits: Uint16Array.of(2), visit_gap: Uint8Array.of(255, 10),
  });
  assert.deepEqual([0, 255, 299, 300].map((day) => season.codes("occupancy", day)[0]), [1, 1, 1, 2]);
  assert.deepEqual([255, 264, 265, 300].map((day) => season.daysSinceVisit(day)[0]), [-1, -1, 0, 35]);
  assert.deepEqual(season.window(), [258, 279]);
});

test("texts are given by number, and found as a whole", () => {
  const texts = new Texts("A12\x1fA1\x1f\x1fé2");
  assert.deepEqual([...texts], ["A12", "A1", "", "é2"]);
  assert.deepEqual(["A1", "", "é2", "A", "2"].map((text) => texts.indexOf(text)), [1, 2, 3, -1, -1]);
  const many = Array.from({ length: 50 }, (_, i) => (i % 16 ? "B" + i : "")), long = new Texts(many.join("\x1f"));
  assert.deepEqual([...many.keys()].map((i) => long.at(i)), many);
  assert.deepEqual(["B1", "B15", "B17", "B47", "B49", "", "B5"].map((text) => long.indexOf(text)), [1, 15, 17, 47, 49, 0, 5]);
});

test("a word goes where its band of the strip is thickest, or nowhere", () => {
  const left = (k) => k * 10, lower = new Float64Array(11).fill(40);
  assert.equal(roomInBand(lower, new Float64Array(11).fill(30), left, 10), null);
  const { x, y } = roomInBand(lower, Float64Array.from([30, 30, 30, 20, 10, 0, 10, 20, 30, 30, 30]), left, 12);
  assert.deepEqual([x, y], [50, 25]);
});

test("data that packing.py did not pack is refused", () => {
  assert.throws(() => unpack(new ArrayBuffer(16)), /Expected map data, got something else/);
});

test("a ring counts the shown boxes of its cell by class, at their mean; a lone box stays itself", () => {
  const world = { x: Int32Array.of(1e8, 1.01e8, 1e9, NO_PLACE, 1.005e8), y: Int32Array.of(2e8, 2.01e8, 1e9, NO_PLACE, 2e8) };
  const cells = new Cells(world), hidden = Uint8Array.of(0, 0, 0, 0, 1);
  const rings = cells.rings(5, Uint8Array.of(0, 1, 1, 0, 0), hidden, 2);
  assert.deepEqual(rings.map(({ total, box, counts }) => [total, box, [...counts]]), [[2, -1, [1, 1]], [1, 2, [0, 1]]]);
  assert.deepEqual([rings[0].x, rings[0].y], [1.005e8, 2.005e8]);
  assert.deepEqual(cells.boxesOf(5, rings[0], hidden), [0, 1]);
  assert.equal(cells.at(5), cells.at(5));
  assert.equal(cells.rings(22, Uint8Array.of(0, 1, 1, 0, 0), hidden, 2).length, 3);
});

test("every box that is shown and has a place is in one ring", () => {
  const n = 500, world = { x: new Int32Array(n), y: new Int32Array(n) }, hidden = new Uint8Array(n);
  for (let i = 0; i < n; i++) { world.x[i] = ((i * 0.618) % 1 - 0.5) * WORLD; world.y[i] = ((i * 0.387) % 1 - 0.5) * WORLD; hidden[i] = Number(i % 7 === 0); }
  for (const zoom of [0, 3, 6, 9]) {
    const rings = new Cells(world).rings(zoom, new Uint8Array(n), hidden, 1);
    assert.equal(rings.reduce((all, { total }) => all + total, 0), hidden.filter((one) => !one).length);
  }
});

test("symbols are spread until none covers another, and stay near their places", () => {
  const places = [[0, 0], [0, 0], [3, 1], [100, 0], [101, 0], [300, 300]], points = structuredClone(places);
  spread(points, 10);
  for (const [at, one] of points.entries()) {
    for (const other of points.slice(at + 1)) assert.ok(Math.hypot(one[0] - other[0], one[1] - other[1]) > 9.9);
    assert.ok(Math.hypot(one[0] - places[at][0], one[1] - places[at][1]) < 16);
  }
  assert.deepEqual(points[5], [300, 300]);
});

test("lines of the globe are at round degrees, named with as many decimals as they need", () => {
  assert.deepEqual([0.0031, 0.02, 0.7, 6].map(roundStep), [0.005, 0.02, 1, 10]);
  assert.equal(degreeWords(-77.955, 0.005, "EW"), "77.955° W");
  assert.equal(degreeWords(42, 1, "NS"), "42° N");
});

/** Relative luminance and contrast (WCAG 2.2, definitions). @param {string} colour */
const luminance = (colour) => [1, 3, 5].reduce((sum, at, k) => {
  const part = parseInt(colour.slice(at, at + 2), 16) / 255;
  return sum + [0.2126, 0.7152, 0.0722][k] * (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4);
}, 0);
const contrast = (one, other) => {
  const [low, high] = [luminance(one), luminance(other)].sort((a, b) => a - b);
  return (high + 0.05) / (low + 0.05);
};

test("at night every colour of a symbol holds on every ground, and so do its rim and the words", () => {
  // Okabe and Ito's colours, as symbols.py has them; black is drawn white.
  const colours = ["#ffffff", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7"];
  const [, night] = LOOKS, grounds = [night.ground, ...Object.values(night.zones).map(({ fillColor }) => fillColor)];
  for (const ground of grounds) {
    for (const colour of colours) assert.ok(contrast(colour, ground) >= 3, colour + " on " + ground);
    for (const word of [...Object.values(night.words), night.ink, night.soft, night.chosen]) assert.ok(contrast(word, ground) >= 4.5, word + " on " + ground);
  }
});

test("by day the rim and the words hold on every ground", () => {
  const [day] = LOOKS;
  for (const { fillColor } of [{ fillColor: day.ground }, ...Object.values(day.zones)]) {
    assert.ok(contrast(day.ink, fillColor) >= 4.5);
    assert.ok(contrast(day.words.hazard, fillColor) >= 3);
  }
});

test("a box has a first egg when it comes into use, by its species; of left-out boxes none", () => {
  const season = new Season({
    header: { season: 2026, first_day: "2026-01-01", days: 200 },
    changes: Uint16Array.of(4, 2), gap: Uint8Array.of(0, 120, 30, 10, 0, 130), state: Uint8Array.of(0, 1, 2, 3, 0, 1),
    occupancy: Uint8Array.of(3, 0, 2, 0), species: Uint8Array.of(0, 1, 1, 2), fate: new Uint8Array(4), visits: new Uint16Array(2), visit_gap: new Uint8Array(0),
  });
  const occupancy = { class_of: [0, 1, 2, 3], symbols: [{ word: "in use" }, { word: "started" }, { word: "finished" }, { word: "unused" }] };
  const species = { class_of: [0, 1, 2], symbols: [{ word: "none" }, { word: "wren" }, { word: "swallow" }] };
  const found = firstEggs(season, occupancy, species, Uint8Array.of(0, 0));
  assert.deepEqual(found.map(({ symbol, days }) => [symbol.word, days]), [["wren", [120, 130]], ["swallow", [160]]]);
  assert.equal(eggWords(found[0], season), "wren: 2 first eggs, half of them by Fri 1 May");
  assert.equal(eggWords(found[1], season), "swallow: first egg Wed 10 Jun");
  assert.deepEqual(firstEggs(season, occupancy, species, Uint8Array.of(1, 0)).map(({ days }) => days), [[130]]);
  assert.deepEqual([inYears("2026-06-03", -1), inYears("2024-02-29", 1), inYears("2024-02-29", -4)], ["2025-06-03", "2025-03-01", "2020-02-29"]);
});
