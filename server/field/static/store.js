// What this phone keeps: drafts, visits on their way, skipped boxes, and the day as it was fetched.
// Every write is strict: once it is reported kept, it outlives a killed browser and a dead battery.
import { named } from "/static/web/base.js";

const NAME = named("boxround field"), VERSION = 1;
const BEFORE = "boxround visits not sent";

/** @typedef {Record<string, string>} Cells what was recorded, by the names of the form */
/** @typedef {{ key: string, id: string, box: string, date: string, time: string, replaces: string, cells: Cells, seen?: import("./identify.js").Seen }} Draft */
/**
 * @typedef {object} Item a visit on its way to the trail
 * @property {string} id made on this phone, so that sending twice saves once
 * @property {number} order
 * @property {string} box
 * @property {string} date
 * @property {string} body the exact text to send, as it was frozen when it was saved
 * @property {string} by who was signed in when it was made
 * @property {string} made
 * @property {number} after milliseconds of the clock before which it is not sent: the time to undo
 * @property {number} tries
 * @property {"waiting" | "sent" | "held"} state
 * @property {string} answer words of the server that need an answer
 * @property {string} schema
 */

/** @type {Promise<IDBDatabase> | undefined} */
let opened;

/** @template T @param {IDBRequest<T>} request @returns {Promise<T>} */
const result = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

function database() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      for (const [name, keyPath] of [["drafts", "key"], ["outbox", "id"], ["skipped", "key"], ["day", "key"]]) {
        request.result.createObjectStore(name, { keyPath });
      }
    };
    request.onerror = () => reject(request.error);
    request.onsuccess = () => {
      // Another tab with a newer page must be able to change the store.
      request.result.onversionchange = () => request.result.close();
      resolve(request.result);
    };
  });
  return opened;
}

/**
 * Change one or more stores at once, and resolve when that is on the disk.
 * @template T
 * @param {string[]} names @param {(...stores: IDBObjectStore[]) => Promise<T> | T} change
 * @returns {Promise<T>}
 */
export async function write(names, change) {
  const transaction = (await database()).transaction(names, "readwrite", { durability: "strict" });
  const done = new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve(undefined);
    transaction.onabort = () => reject(transaction.error || new Error("It was not kept"));
  });
  let changed;
  try {
    changed = await change(...names.map((name) => transaction.objectStore(name)));
  } catch (error) {
    try { transaction.abort(); } catch { /* It is over already. */ }
    done.catch(() => undefined);
    throw error;
  }
  await done;
  return changed;
}

/** @param {string} name @param {any} value */
export const put = (name, value) => write([name], (store) => void store.put(value));

/** @param {string} name @param {string} key */
export const remove = (name, key) => write([name], (store) => void store.delete(key));

/** @param {string} name */
export const clear = (name) => write([name], (store) => void store.clear());

/** @param {string} name @returns {Promise<any[]>} */
export async function all(name) {
  return result((await database()).transaction(name).objectStore(name).getAll());
}

/** @param {string} name @param {string} key @returns {Promise<any>} */
export async function get(name, key) {
  return result((await database()).transaction(name).objectStore(name).get(key));
}

/** Read and change a row in one step; `null` deletes it. @param {string} name @param {string} key @param {(row: any) => any} change */
export const change = (name, key, change) => write([name], async (store) => {
  const after = change(await result(store.get(key)));
  if (after === null) store.delete(key);
  else if (after !== undefined) store.put(after);
  return after;
});

/** Visits that an older page kept in another place move into the outbox, before that is emptied. */
export async function takeOver() {
  const text = localStorage.getItem(BEFORE);
  if (!text) return;
  const list = /** @type {{ visit: Cells }[]} */ (JSON.parse(text) || []);
  await write(["outbox"], (store) => {
    list.forEach(({ visit }, number) => store.put(itemOf(visit, { order: number, by: "" })));
  });
  localStorage.removeItem(BEFORE);
}

/** @param {Cells} visit @param {{ order?: number, by?: string, after?: number }} more @returns {Item} */
export function itemOf(visit, { order = Date.now(), by = "", after = 0 } = {}) {
  return {
    id: visit.visit_id, order, box: visit.box, date: visit.date, body: JSON.stringify(visit), by,
    made: new Date().toISOString(), after, tries: 0, state: "waiting", answer: "", schema: "1",
  };
}

/** The visit that an item holds. @param {Item} item @returns {Cells} */
export const visitIn = (item) => JSON.parse(item.body);

/** A random id (RFC 9562, version 4), also where the page came over plain http. */
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 15) | 64;
  bytes[8] = (bytes[8] & 63) | 128;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}
