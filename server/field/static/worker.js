// Keeps the field page: one cache a version, whole or not at all. What it holds is only the page;
// the day and the visits are in the page's own store. `SHELL` is put in front by the server.
/** @type {any} a ServiceWorkerGlobalScope, which the types of pages do not have */
const worker = self;
/** @type {{ version: string, base: string, page: string, files: string[] }} */
const SHELL_OF_PAGE = worker.SHELL;
const OF_TRAIL = "boxround field " + (SHELL_OF_PAGE.base && SHELL_OF_PAGE.base + " "), CACHE = OF_TRAIL + SHELL_OF_PAGE.version;

worker.addEventListener("install", (/** @type {any} */ event) => {
  // No skipWaiting: an open page must not import modules of another version.
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(SHELL_OF_PAGE.files.map((file) => new Request(file, { cache: "reload" })))));
});

worker.addEventListener("activate", (/** @type {any} */ event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith(OF_TRAIL) && name !== CACHE) await caches.delete(name);
    await worker.clients.claim();
  })());
});

worker.addEventListener("message", (/** @type {any} */ event) => { if (event.data === "skip") worker.skipWaiting(); });

worker.addEventListener("fetch", (/** @type {any} */ event) => {
  const url = new URL(event.request.url);
  if (url.origin !== worker.location.origin || event.request.method !== "GET") return;
  const page = event.request.mode === "navigate" && url.pathname === SHELL_OF_PAGE.page;
  if (page || SHELL_OF_PAGE.files.includes(url.pathname)) event.respondWith(answered(event.request, url.pathname));
  // Pictures of the ground that the page keeps; each version of them has addresses of its own.
  else if (url.pathname.startsWith(SHELL_OF_PAGE.base + "/map/background/")) event.respondWith(caches.match(event.request, { ignoreVary: true }).then((held) => held || fetch(event.request)));
});

/** @type {Promise<Cache> | undefined} opened once for all files of a page */
let cache;

/** From the cache of this version; from the server where that was cleared. @param {Request} request @param {string} path */
async function answered(request, path) {
  cache ??= caches.open(CACHE);
  return await (await cache).match(path, { ignoreVary: true }) || fetch(request);
}
