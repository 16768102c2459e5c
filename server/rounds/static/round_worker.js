// Keeps the round that was opened last, so that it opens again where there is no signal.
const ROOM = "boxround round";
const PATIENCE_MS = 4000;
/** @type {any} a ServiceWorkerGlobalScope, which the types of pages do not have */
const worker = self;

worker.addEventListener("install", () => worker.skipWaiting());
worker.addEventListener("activate", (/** @type {any} */ event) => event.waitUntil(worker.clients.claim()));

worker.addEventListener("message", (/** @type {any} */ event) => {
  const answer = (/** @type {boolean} */ kept) => event.ports[0].postMessage(kept);
  event.waitUntil(keep(event.data).then(() => answer(true), () => answer(false)));
});

/** Keep these addresses and no others: a phone holds the places of one round only. @param {string[]} addresses */
async function keep(addresses) {
  const room = await caches.open(ROOM);
  await room.addAll(addresses);
  const wanted = new Set(addresses.map((address) => new URL(address, worker.location).href));
  for (const request of await room.keys()) if (!wanted.has(request.url)) await room.delete(request);
}

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const own = new URL(event.request.url).origin === worker.location.origin;
  if (own && event.request.method === "GET") event.respondWith(answered(event.request));
});

/** As it is on the server, or as it was kept where that cannot be had soon. @param {Request} request */
async function answered(request) {
  const fresh = fetch(request);
  const kept = await caches.match(request, { ignoreVary: true });
  if (!kept) return fresh;
  const late = new Promise((resolve) => setTimeout(() => resolve(kept), PATIENCE_MS));
  return Promise.race([fresh.catch(() => kept), late]);
}
