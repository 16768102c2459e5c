// What the scripts of the round's and the public pages compute.
import assert from "node:assert/strict";
import test from "node:test";
import { arrowsAlong } from "../../server/rounds/static/round_map.js";
import { stopsOf } from "../../server/rounds/static/stops.js";
import { formatDistance, towards } from "/static/js/way.js";

// The public map draws as soon as it is loaded, where there is a page.
globalThis.document = { getElementById: () => null };
globalThis.window = {};
const { counted } = await import("/static/js/public.js");

test("boxes at one stop are one stop", () => {
  const stops = stopsOf({ stops: [
    { walker: 1, order: 1, box: "A" }, { walker: 1, order: 1, box: "B" }, { walker: 1, order: 2, box: "C" }, { walker: 2, order: 1, box: "D" }] });
  assert.deepEqual(stops.map(({ key, boxes }) => [key, boxes]), [["1-1", ["A", "B"]], ["1-2", ["C"]], ["2-1", ["D"]]]);
});

test("arrows stand at even distances on the right of the way", () => {
  assert.deepEqual(arrowsAlong([{ x: 0, y: 0 }, { x: 200, y: 0 }]), [{ x: 45, y: 8, turn: 0 }, { x: 135, y: 8, turn: 0 }]);
  assert.deepEqual(arrowsAlong([{ x: 0, y: 0 }, { x: 0, y: 30 }, { x: 0, y: 60 }]), [{ x: -8, y: 45, turn: 90 }]);
});

test("how far and which way a place is", () => {
  // A degree of latitude on a sphere of 6,371,008.8 m (IUGG mean radius).
  const { metres, word } = towards({ lat: 42, lon: -77 }, { lat: 43, lon: -77 });
  assert.ok(Math.abs(metres - 111195.08) < 0.01);
  assert.equal(word, "north");
  assert.equal(towards({ lat: 42, lon: -77 }, { lat: 42, lon: -77.001 }).word, "west");
  assert.deepEqual([[999.4, "metric"], [1000, "metric"], [30.48, "us"], [1609.344, "us"]].map(([m, units]) => formatDistance(m, units)),
    ["999 m", "1.00 km", "100 ft", "1.00 mi"]);
});

test("neighbouring cells share an edge, which is drawn once", () => {
  assert.deepEqual([0, 1, 2].map((number) => counted(number, "box", "boxes")), ["0 boxes", "1 box", "2 boxes"]);
});
