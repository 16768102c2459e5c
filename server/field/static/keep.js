// Keeps the page itself on the phone, and a newer one from taking its place while a form is open.
import { at } from "/static/web/base.js";

/** @typedef {{ kept: boolean, newer: ServiceWorker | null }} Kept */

/**
 * Register the worker where the browser allows one.
 * @param {(kept: Kept) => void} changed called with what holds, and again when a newer page waits
 */
export async function keepPage(changed) {
  if (!("serviceWorker" in navigator) || !window.isSecureContext) return changed({ kept: false, newer: null });
  try {
    const registration = await navigator.serviceWorker.register(at("/field/worker.js"), { scope: at("/field"), updateViaCache: "none" });
    const report = () => changed({ kept: Boolean(registration.active), newer: registration.active && registration.waiting });
    registration.addEventListener("updatefound", () => registration.installing?.addEventListener("statechange", report));
    await navigator.serviceWorker.ready;
    report();
  } catch {
    changed({ kept: false, newer: null });
  }
}

/** Take the newer page: it becomes the active one, and this one loads again. @param {ServiceWorker} newer */
export function takeNewer(newer) {
  navigator.serviceWorker.addEventListener("controllerchange", () => location.reload(), { once: true });
  newer.postMessage("skip");
}

/** Ask the browser not to clear this page's storage when the phone is full; what it answered, in words. */
export async function persist() {
  if (!navigator.storage?.persist) return "";
  const granted = await navigator.storage.persisted() || await navigator.storage.persist();
  return granted ? "" : "The browser may clear what this page keeps when the phone is full: send before you clear anything.";
}
