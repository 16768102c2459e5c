// What a person of this device kept to read without a network: nobody reads it after them.
// Visits that wait to be sent stay: they are sent once somebody is signed in.
export {};
if ("caches" in window) for (const name of await caches.keys()) await caches.delete(name);
try {
  localStorage.removeItem("boxround round done");
} catch {
  // A browser that keeps nothing has nothing to forget.
}
