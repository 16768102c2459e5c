// What a person of this device stored to read without a network: the next person does not read it.
// Visits that wait to be sent stay: they are sent once a person is signed in.
import { named } from "/static/web/base.js";
const KEPT = ["boxround field", "boxround pictures"].map((name) => named(name) + " ");
if ("caches" in window) for (const name of await caches.keys()) if (KEPT.some((start) => name.startsWith(start))) await caches.delete(name);
try {
  const opened = indexedDB.open(named("boxround field"));
  opened.onsuccess = () => {
    const stores = opened.result.objectStoreNames;
    if (stores.contains("day")) opened.result.transaction("day", "readwrite").objectStore("day").clear();
    opened.result.close();
  };
  // Before the field page there is nothing to forget, and no store is made here.
  opened.onupgradeneeded = () => opened.transaction?.abort();
} catch {
  // A browser that keeps nothing has nothing to forget.
}
