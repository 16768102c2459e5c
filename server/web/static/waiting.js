// Visits kept on this device because they could not be sent: tell of them, and send them again.
import { make, makeButton, refill } from "/static/js/dom.js";

/** @typedef {Record<string, string>} Visit */
/** @typedef {{ visit: Visit, wrong: string }} Waiting `wrong` says why the server refused it, "" if it has not */

const KEY = "boxround visits not sent";
const AGAIN_MS = 60000;
const PATIENCE_MS = 30000;
let under_way = false;

/** @returns {Waiting[]} */
export function waiting() {
  try {
    return JSON.parse(localStorage.getItem(KEY) || "[]") || [];
  } catch {
    return [];
  }
}

/** Whether this device could keep it: its storage may be full or shut. @param {Waiting[]} list */
function write(list) {
  try {
    localStorage.setItem(KEY, JSON.stringify(list));
    return true;
  } catch {
    return false;
  }
}

/** @param {Visit} visit */
const others = (visit) => waiting().filter((one) => one.visit.visit_id !== visit.visit_id);

/** @param {Visit} visit @param {string} wrong */
export const keep = (visit, wrong = "") => write([...others(visit), { visit, wrong }]);

/** @param {Visit} visit */
export const forget = (visit) => write(others(visit));

/** "sent" and "wrong" are final; "later" is worth another try. @param {Visit} visit */
export async function send(visit) {
  let answer;
  try {
    answer = await fetch("/api/visits", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body: JSON.stringify(visit),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch {
    return { state: "later", said: "There is no connection." };
  }
  if (answer.ok) return { state: "sent", said: "" };
  const problem = await answer.json().catch(() => ({}));
  const faults = (problem.faults || []).map(
    (/** @type {Record<string, string>} */ fault) => (fault.column ? fault.column + ": " : "") + "expected " + fault.expected + ", got " + fault.came);
  const said = [problem.detail || "The server answered " + answer.status, ...faults].join("; ");
  // Signed out, too slow or too often: the same visit may be sent again.
  const later = answer.status >= 500 || [401, 408, 429].includes(answer.status);
  return { state: later ? "later" : "wrong", said };
}

// Try every waiting visit once. Visits may be added meanwhile, so each is taken out by itself.
export async function sendWaiting() {
  if (under_way) return;
  under_way = true;
  try {
    for (const { visit, wrong } of waiting()) {
      if (wrong) continue;
      const result = await send(visit);
      if (result.state === "sent") forget(visit);
      else if (result.state === "wrong") keep(visit, result.said);
      else break;
    }
  } finally {
    under_way = false;
    tell();
  }
}

/** @param {Waiting} one */
function lineOf({ visit, wrong }) {
  const form = "/boxes/" + encodeURIComponent(visit.box) + "/visit#waiting=" + visit.visit_id;
  const drop = makeButton("Throw it away", {}, () => {
    if (!confirm("Throw away the visit to box " + visit.box + " of " + visit.date + "? It has not been saved.")) return;
    forget(visit);
    tell();
  });
  return make("li", {}, "Box " + visit.box + ", " + visit.date + (wrong ? " needs another look: " + wrong + " " : " "),
    make("a", { href: form }, "Open it"), " ", drop);
}

export function tell() {
  const place = document.querySelector("[data-waiting]");
  if (!place) return;
  const list = waiting();
  refill(place, ...(list.length ? [make("p", {}, "Kept on this device and not yet sent:"), make("ul", {}, ...list.map(lineOf))] : []),
    list.some((one) => !one.wrong) ? makeButton("Send now", {}, sendWaiting) : null);
}

tell();
sendWaiting();
window.addEventListener("online", sendWaiting);
setInterval(sendWaiting, AGAIN_MS);
