// Visits kept on this device because they could not be sent: tell of them, and send them again.
const KEY = "boxround visits not sent";

export function waiting() {
  try {
    return JSON.parse(localStorage.getItem(KEY) || "[]");
  } catch {
    return [];
  }
}

export function keep(visits) {
  localStorage.setItem(KEY, JSON.stringify(visits));
}

// "sent" and "wrong" are final; "later" is worth another try.
export async function send(visit) {
  let answer;
  try {
    answer = await fetch("/api/visits", {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(visit),
    });
  } catch {
    return { state: "later", said: "There is no connection." };
  }
  if (answer.ok) return { state: "sent" };
  const problem = await answer.json().catch(() => ({}));
  const later = answer.status === 503 || answer.status >= 500;
  return { state: later ? "later" : "wrong", said: problem.detail || "The server answered " + answer.status, problem: problem };
}

// Try every waiting visit once; what could not be sent stays.
export async function sendWaiting() {
  const left = [];
  for (const visit of waiting()) {
    const result = await send(visit);
    if (result.state !== "sent") left.push({ ...visit });
  }
  keep(left);
  tell();
  return left;
}

export function tell() {
  const place = document.querySelector("[data-waiting]");
  if (!place) return;
  const visits = waiting();
  place.replaceChildren();
  if (!visits.length) return;
  const words = document.createElement("p");
  words.textContent = (visits.length === 1 ? "1 visit is" : visits.length + " visits are") +
    " kept on this device and not yet sent: box " + visits.map((visit) => visit.box).join(", ") + ".";
  const again = document.createElement("button");
  again.type = "button";
  again.textContent = "Send now";
  again.addEventListener("click", sendWaiting);
  place.append(words, again);
}

tell();
if (waiting().length && navigator.onLine) sendWaiting();
window.addEventListener("online", sendWaiting);
