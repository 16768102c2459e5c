// Visits kept on this device because they could not be sent: tell of them, and send them again.
const KEY = "boxround visits not sent";
const AGAIN_MS = 60000;
const PATIENCE_MS = 30000;
let under_way = false;

// Each is { visit, wrong }; `wrong` says why the server refused it, "" if it has not.
export function waiting() {
  try {
    return JSON.parse(localStorage.getItem(KEY)) || [];
  } catch {
    return [];
  }
}

// Whether this device could keep it: its storage may be full or shut.
function write(list) {
  try {
    localStorage.setItem(KEY, JSON.stringify(list));
    return true;
  } catch {
    return false;
  }
}

function others(visit) {
  return waiting().filter((one) => one.visit.visit_id !== visit.visit_id);
}

export function keep(visit, wrong = "") {
  return write([...others(visit), { visit, wrong }]);
}

export function forget(visit) {
  write(others(visit));
}

// "sent" and "wrong" are final; "later" is worth another try.
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
    (fault) => (fault.column ? fault.column + ": " : "") + "expected " + fault.expected + ", got " + fault.came);
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

function made(tag, text, more = {}) {
  return Object.assign(document.createElement(tag), { textContent: text, ...more });
}

function told({ visit, wrong }) {
  const line = made("li", "Box " + visit.box + ", " + visit.date + (wrong ? " needs another look: " + wrong + " " : " "));
  const form = "/boxes/" + encodeURIComponent(visit.box) + "/visit#waiting=" + visit.visit_id;
  line.append(made("a", "Open it", { href: form }), " ");
  const drop = made("button", "Throw it away", { type: "button" });
  drop.addEventListener("click", () => {
    if (!confirm("Throw away the visit to box " + visit.box + " of " + visit.date + "? It has not been saved.")) return;
    forget(visit);
    tell();
  });
  line.append(drop);
  return line;
}

export function tell() {
  const place = document.querySelector("[data-waiting]");
  if (!place) return;
  const list = waiting();
  place.replaceChildren();
  if (!list.length) return;
  const lines = made("ul", "");
  lines.append(...list.map(told));
  const again = made("button", "Send now", { type: "button" });
  again.addEventListener("click", sendWaiting);
  place.append(made("p", "Kept on this device and not yet sent:"), lines);
  if (list.some((one) => !one.wrong)) place.append(again);
}

tell();
sendWaiting();
window.addEventListener("online", sendWaiting);
setInterval(sendWaiting, AGAIN_MS);
