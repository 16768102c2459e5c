// What the field page computes: a visit from taps, the outbox's protocol, the file for a keeper.
import assert from "node:assert/strict";
import test from "node:test";

globalThis.window = { addEventListener() {} };
globalThis.document = { addEventListener() {} };
const { asLastTime, asTable, empty, inWords, isBlank, localMoment, mayDo, stepped, visitOf, withdrawalOf } = await import("../../server/field/static/visit.js");
const { outcomeOf, ready, wordsOf } = await import("../../server/field/static/outbox.js");
const { itemOf, newId } = await import("../../server/field/static/store.js");

test("a count begins from the last one, and stays within what a box can hold", () => {
  assert.deepEqual([["", 5, 1], ["", null, 1], ["", 5, -1], ["0", 5, -1], ["40", 5, 1], ["3", 5, 1]].map(([cell, ghost, by]) => stepped(cell, ghost, by, 40)),
    ["6", "1", "4", "0", "40", "4"]);
});

test("as last time is what can be counted again, and nothing else", () => {
  const last = { eggs: 5, young: null, young_days: null, nest: "lined cup", adult: "sitting", species: "Great tit" };
  assert.deepEqual(asLastTime(last), { opened: "yes", eggs: "5", nest: "lined cup" });
  assert.equal(asLastTime({ ...last, eggs: null, nest: null }), null);
  assert.equal(asLastTime(null), null);
  assert.deepEqual(empty(), { opened: "yes", eggs: "0", young: "0" });
});

test("a visit holds what was recorded, and the box was opened where something was counted", () => {
  const draft = { key: "M05", id: "i", box: "M05", date: "2026-06-03", time: "08:40", replaces: "", cells: { eggs: "5", note: " " } };
  assert.deepEqual(visitOf(draft, "Robin"), { visit_id: "i", box: "M05", date: "2026-06-03", time: "08:40", observer: "Robin", eggs: "5", opened: "yes" });
  assert.equal(visitOf({ ...draft, cells: { adult: "near", opened: "no" }, replaces: "j" }, "").replaces, "j");
  assert.ok(isBlank({ eggs: "", note: "  " }) && !isBlank({ eggs: "0" }));
  assert.deepEqual(Object.keys(withdrawalOf({ visit_id: "i", box: "M05", date: "2026-06-03", eggs: "5" }, "w")), ["visit_id", "box", "date", "replaces", "withdraws"]);
  assert.equal(inWords({ eggs: "1", young: "2", signs: "ants;wet", opened: "yes" }), "1 egg; 2 young; signs ants, wet");
  assert.equal(inWords({ opened: "no" }), "not opened");
});

test("a closed box is offered nothing that opens it", () => {
  assert.deepEqual(["open", "watch from a distance; do not open", "leave", "whatever comes later"].map((approach) => mayDo({ approach })), ["open", "watch", "leave", "watch"]);
});

test("day and time are those of the trail, not of the phone", () => {
  assert.deepEqual(localMoment(new Date("2026-06-03T03:30:00Z"), "America/New_York"), { date: "2026-06-02", time: "23:30" });
  assert.deepEqual(localMoment(new Date("2026-06-02T22:05:00Z"), "Europe/Berlin"), { date: "2026-06-03", time: "00:05" });
});

test("only the trail's own acknowledgement counts as sent", () => {
  const of = (status, body = null, more = {}) => outcomeOf({ status, body, ...more }, "i");
  assert.deepEqual([of(201, { visit_id: "i" }), of(200, { visit_id: "i" })], ["sent", "sent"]);
  // A sign-in page of a network, another visit's answer, a redirect.
  assert.deepEqual([of(200), of(200, { visit_id: "j" }), of(200, { visit_id: "i" }, { redirected: true }), of(302)], ["later", "later", "later", "later"]);
  assert.deepEqual([408, 425, 429, 500, 502, 503, 507].map((status) => of(status)), Array(7).fill("later"));
  assert.equal(of(401), "signed out");
  assert.deepEqual([403, 404, 409, 413, 422].map((status) => of(status)), Array(5).fill("held"));
  assert.equal(wordsOf({ detail: "Not saved", faults: [{ column: "eggs", expected: "0 to 40", came: "99" }] }, 422), "Not saved; eggs: expected 0 to 40, got 99");
});

test("visits go in order, not before their time to undo, and none before what it corrects", () => {
  const item = (id, order, more = {}) => ({ ...itemOf({ visit_id: id, box: "M05", date: "2026-06-03", ...(more.replaces ? { replaces: more.replaces } : {}) }, { order }), ...more });
  const ids = (items, now = 100) => ready(items, now).map(({ id }) => id);
  assert.deepEqual(ids([item("b", 2), item("a", 1)]), ["a", "b"]);
  assert.deepEqual(ids([item("a", 1, { after: 101 }), item("b", 2)]), ["b"]);
  assert.deepEqual(ids([item("a", 1, { state: "held" }), item("b", 2, { replaces: "a" }), item("c", 3)]), ["c"]);
  assert.deepEqual(ids([item("a", 1, { state: "sent" }), item("b", 2, { replaces: "a" })]), ["b"]);
});

test("ids are random uuids without a secure page", () => {
  const ids = Array.from({ length: 200 }, newId);
  assert.ok(ids.every((id) => /^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/.test(id)));
  assert.equal(new Set(ids).size, 200);
});

test("the file for a keeper holds every cell, whatever is written in it", () => {
  const table = asTable([{ visit_id: "i", box: "M05", note: 'two "words", a\nline' }, { visit_id: "j", box: "M06", eggs: "5" }]);
  assert.equal(table, 'visit_id,box,note,eggs\r\ni,M05,"two ""words"", a\nline",\r\nj,M06,,5\r\n');
});

test("a visit is asked the same questions as by the Python function, by the same table of cases", async () => {
  const { readFile } = await import("node:fs/promises");
  const { questions } = await import("../../server/field/static/questions.js");
  const table = JSON.parse(await readFile(new URL("../nesting/data/questions.json", import.meta.url)));
  const kinds = (one, more = {}) => questions(one.box, { ...one.visit, ...more }, one.history, table.figures).map(({ kind }) => kind);
  assert.ok(table.cases.length >= 60);
  for (const one of table.cases) {
    assert.deepEqual(kinds(one).sort(), [...one.asks].sort(), one.name);
    assert.deepEqual(kinds(one, one.instead), [], one.name + ", changed");
    assert.deepEqual(kinds(one, { confirmed: one.asks.join(";") }), [], one.name + ", confirmed");
  }
  const [first] = questions(table.cases[0].box, table.cases[0].visit, table.cases[0].history, table.figures);
  assert.match(first.text, /8 days after they were judged 5: 13 would fit\.$/);
});

test("each walker's link holds their boxes in their order, and their name", async () => {
  const { linkOf } = await import("../../server/field/static/walkers.js");
  assert.equal(linkOf("set=due&walkers=2&pace=brisk&from=Car+park", ["M05", "A,1"], "Robin"),
    "/field?set=boxes&order=given&name=Robin&pace=brisk&from=Car+park&boxes=M05&boxes=A%2C1");
});

test("visits of one box and day differ by their counts; two looks that were confirmed are apart", async () => {
  const { differing, isAnswered } = await import("../../server/field/static/twice.js");
  const { asSent } = await import("../../server/field/static/visit.js");
  const visit = (box, eggs, more = {}) => ({ visit_id: box + eggs, box, seen_on: "2026-06-03", seen_at: "2026-06-03T12:40:00.000Z", eggs, young: null, confirmed: null, entered_at: "x", ...more });
  const found = differing([visit("A", 5), visit("A", 4), visit("B", 5), visit("B", 5), visit("C", 5), visit("C", null), visit("D", 1), visit("D", 2, { confirmed: "age;same day" }), visit("E", 1), visit("E", 2, { seen_on: "2026-06-04" })]);
  assert.deepEqual(found.filter((group) => !isAnswered(group)).map((group) => group[0].box), ["A"]);
  assert.deepEqual(found.filter(isAnswered).map((group) => group[0].box), ["D"]);
  assert.deepEqual(asSent(visit("A", 5), "America/New_York"), { visit_id: "A5", box: "A", eggs: "5", date: "2026-06-03", time: "08:40" });
});

test("the key answers as the Python one, by the same table of cases", async () => {
  const { readFile } = await import("node:fs/promises");
  const { identify } = await import("../../server/field/static/identify.js");
  const { key, cases } = JSON.parse(await readFile(new URL("../nesting/data/key.json", import.meta.url)));
  assert.ok(cases.length >= 30);
  for (const one of cases) {
    const { said, species, either, look_next, candidates } = identify(key, one.seen), name = JSON.stringify(one.seen);
    assert.deepEqual({ said, species, either, look_next }, { said: one.said, species: one.species, either: one.either, look_next: one.look_next }, name);
    one.candidates.forEach(([common, chance, reasons], i) => {
      assert.equal(candidates[i].species.name, common, name);
      assert.ok(Math.abs(candidates[i].chance - chance) < 0.001, name);
      assert.deepEqual(candidates[i].reasons, reasons, name);
    });
  }
});
