// Sends what waits on this phone, in order, until the trail has acknowledged each.
import { at, named } from "/static/web/base.js";
import { all, change, visitIn, write } from "./store.js";

/** @typedef {import("./store.js").Item} Item */
/** @typedef {"sent" | "later" | "signed out" | "held"} Outcome */

const TIMEOUT_MS = 20000, AGAIN_MS = 30000, LONGEST_MS = 600000;
const LATER = [408, 425, 429];
/** Sent visits stay to be looked at for so long. */
const SHOWN_MS = 7 * 86400000;

/**
 * What an answer to a visit means.
 * @param {{ status: number, redirected?: boolean, body: any }} answer @param {string} id
 * @returns {Outcome}
 */
export function outcomeOf({ status, redirected = false, body }, id) {
  if (status === 200 || status === 201) {
    // A sign-in page of a hotel answers 200 as well.
    return !redirected && body && body.visit_id === id ? "sent" : "later";
  }
  if (status === 401) return "signed out";
  if (status < 400 || status >= 500 || LATER.includes(status)) return "later";
  return "held";
}

/** What to do next, in the server's words. @param {any} body @param {number} status */
export function wordsOf(body, status) {
  const faults = (body?.faults || []).map((/** @type {any} */ fault) =>
    (fault.column ? fault.column + ": " : "") + "expected " + fault.expected + ", got " + fault.came);
  return [body?.detail || "The server answered " + status, ...faults].join("; ");
}

/** Items that may be sent now, in order: none before one that it corrects. @param {Item[]} items @param {number} now @returns {Item[]} */
export function ready(items, now) {
  const open = new Set(items.filter((item) => item.state !== "sent").map((item) => item.id));
  return items.filter((item) => item.state === "waiting" && item.after <= now)
    .filter((item) => !open.has(visitIn(item).replaces))
    .sort((one, other) => one.order - other.order);
}

export class Outbox {
  /** @param {() => void} changed called when something was sent, held or put off */
  constructor(changed) {
    this.changed = changed;
    this.message = "";
    this.signedOut = false;
    this.wait_ms = AGAIN_MS;
    this.person = "";
    this.running = false;
    this.channel = "BroadcastChannel" in window ? new BroadcastChannel(named("boxround outbox")) : null;
    if (this.channel) this.channel.onmessage = changed;
    for (const name of ["online", "pageshow"]) window.addEventListener(name, () => this.send());
    document.addEventListener("visibilitychange", () => { if (!document.hidden) this.send(); });
  }

  /** @returns {Promise<Item[]>} newest last */
  async items() {
    return (await all("outbox")).sort((one, other) => one.order - other.order);
  }

  /** Send all that may be sent; one tab at a time. */
  async send() {
    if (this.running) return;
    this.running = true;
    clearTimeout(this.timer);
    try {
      // Plain http has no locks; two tabs then send twice, and the trail saves once.
      await (navigator.locks ? navigator.locks.request(named("boxround outbox"), { ifAvailable: true }, (lock) => lock && this._sendAll()) : this._sendAll());
    } finally {
      this.running = false;
      await this._plan();
    }
  }

  async _plan() {
    const waiting = (await this.items()).filter((item) => item.state === "waiting");
    if (!waiting.length) return;
    const next = Math.min(...waiting.map((item) => item.after)) - Date.now();
    this.timer = setTimeout(() => this.send(), next > 0 ? next + 50 : this.wait_ms);
  }

  async _sendAll() {
    const tried = new Set();
    for (;;) {
      const item = ready(await this.items(), Date.now()).find((one) => !tried.has(one.id));
      if (!item) break;
      tried.add(item.id);
      const outcome = await this._sendOne(item);
      this._tell();
      if (outcome === "later" || outcome === "signed out") return;
    }
    await this._forgetOld();
  }

  /** @param {Item} item @returns {Promise<Outcome>} */
  async _sendOne(item) {
    // Counted before it is sent: what may be under way is not taken back, but corrected.
    const now = await change("outbox", item.id, (row) => row?.state === "waiting" ? { ...row, tries: row.tries + 1 } : undefined);
    if (!now) return "held";
    if (item.by && this.person && item.by !== this.person) return this._hold(item, "It was made by " + item.by + ", and " + this.person + " is signed in. Sign in as " + item.by + ", or send it as yours.");
    let status = 0, redirected = false, body = null, retry = "";
    try {
      const answer = await fetch(at("/api/visits"), {
        method: "POST", headers: { "Content-Type": "application/json" }, body: now.body, redirect: "follow", signal: AbortSignal.timeout(TIMEOUT_MS),
      });
      ({ status, redirected } = answer);
      retry = answer.headers.get("Retry-After") || "";
      body = await answer.json().catch(() => null);
    } catch {
      status = 0;
    }
    const outcome = status ? outcomeOf({ status, redirected, body }, item.id) : "later";
    this.signedOut = outcome === "signed out";
    if (outcome === "sent") {
      this.message = "";
      this.wait_ms = AGAIN_MS;
      await change("outbox", item.id, (row) => row && { ...row, state: "sent", answer: "" });
    } else if (outcome === "held") {
      await this._hold(item, wordsOf(body, status));
    } else {
      this.message = outcome === "signed out" ? "Sign in again: nothing is sent until then, and nothing is lost."
        : status ? "The server is not ready for visits (" + status + ")." : "No connection to the server.";
      // A server that is not ready is left alone for longer each time; without a signal there is none to disturb.
      this.wait_ms = Number(retry) > 0 ? Number(retry) * 1000 : status ? Math.min(this.wait_ms * 2, LONGEST_MS) : AGAIN_MS;
    }
    return outcome;
  }

  /** @param {Item} item @param {string} answer @returns {Promise<Outcome>} */
  async _hold(item, answer) {
    await change("outbox", item.id, (row) => row && { ...row, state: "held", answer });
    return "held";
  }

  async _forgetOld() {
    const old = (await this.items()).filter((item) => item.state === "sent" && Date.parse(item.made) < Date.now() - SHOWN_MS);
    if (old.length) await write(["outbox"], (store) => { for (const item of old) store.delete(item.id); });
  }

  /** Try a held visit again, as it is. @param {string} id @param {string} by */
  async release(id, by) {
    await change("outbox", id, (row) => row && { ...row, state: "waiting", answer: "", by, after: 0 });
    await this.send();
  }

  _tell() {
    this.channel?.postMessage("changed");
    this.changed();
  }
}
