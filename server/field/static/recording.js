// A visit's way on this phone: from a draft to the outbox, back again, and withdrawn. Each step is one transaction.
import { change, get, itemOf, newId, put, visitIn, write } from "./store.js";
import { visitOf, withdrawalOf } from "./visit.js";

/** @typedef {import("./store.js").Draft} Draft */
/** @typedef {import("./store.js").Item} Item */
/** @typedef {import("./store.js").Cells} Cells */

/** Time to undo: a saved visit is not sent before. */
export const UNDO_MS = 10000;

/** @param {Item} item @param {string} id @param {string} replaces @returns {Draft} */
function draftOf(item, id, replaces) {
  const { visit_id: _id, box, date, time = "", replaces: _replaces, observer: _observer, ...cells } = visitIn(item);
  return { key: box, id, box, date, time, replaces, cells };
}

/** The draft of a box: empty, or one that changes what this phone recorded. @param {string} box @param {Item | undefined} own @param {{ date: string, time: string }} now @returns {Draft} */
export function newDraft(box, own, now) {
  if (!own) return { key: box, id: newId(), box, ...now, replaces: "", cells: {} };
  // One that was never sent is changed as it is; one that may have been is corrected by a new row.
  return own.tries === 0 ? draftOf(own, own.id, visitIn(own).replaces || "") : draftOf(own, newId(), own.id);
}

/** Put a draft into the outbox. @param {Draft} draft @param {string} observer @param {string} by @returns {Promise<Cells>} the visit as it will be sent */
export function save(draft, observer, by) {
  return write(["outbox", "drafts"], (outbox, drafts) => new Promise((resolve, reject) => {
    const before = outbox.get(draft.id), visit = visitOf(draft, observer);
    before.onerror = () => reject(before.error);
    before.onsuccess = () => {
      // Sent meanwhile: what changed since is a correction.
      const saved = before.result?.tries > 0 ? { ...visit, visit_id: newId(), replaces: draft.id } : visit;
      outbox.put(itemOf(saved, { order: before.result?.order, by, after: Date.now() + UNDO_MS }));
      drafts.delete(draft.key);
      resolve(saved);
    };
  }));
}

/** The row that takes a visit back goes into the outbox. @param {Cells} visit @param {string} by */
export const withdraw = (visit, by) => put("outbox", itemOf(withdrawalOf(visit, newId()), { by }));

/** What was saved is a draft again; what may be under way is withdrawn. @param {Draft} draft @param {Cells} visit @param {string} by */
export async function undo(draft, visit, by) {
  const taken = await change("outbox", visit.visit_id, (row) => row && row.tries === 0 ? null : undefined);
  await (taken === null ? put("drafts", draft) : withdraw(visit, by));
}

/** A visit that the server did not take is a draft again. @param {Item} item */
export const takeBack = (item) => write(["outbox", "drafts"], (outbox, drafts) => {
  drafts.put(draftOf(item, newId(), visitIn(item).replaces || ""));
  outbox.delete(item.id);
});

/** A visit that the server did not take is sent as another one, under a new id. @param {Item} item @param {string} by */
export const sendAsNew = (item, by) => write(["outbox"], (outbox) => {
  const id = newId();
  outbox.put({ ...item, id, body: JSON.stringify({ ...visitIn(item), visit_id: id }), state: "waiting", answer: "", tries: 0, by });
  outbox.delete(item.id);
});

/** Skip a box on a day. @param {string} box @param {string} date @param {string} reason @returns {Promise<() => Promise<void>>} what takes it back */
export async function skip(box, date, reason) {
  const key = date + "|" + box, draft = await get("drafts", box);
  await write(["skipped", "drafts"], (skipped, drafts) => { skipped.put({ key, date, box, reason }); drafts.delete(box); });
  return () => write(["skipped", "drafts"], (skipped, drafts) => { skipped.delete(key); if (draft) drafts.put(draft); });
}
