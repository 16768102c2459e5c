// Sends the form in the background, and keeps the visit on this device until it is saved.
import { forget, keep, send, tell, waiting } from "/static/web/waiting.js";

/** @typedef {Record<string, string>} Visit */

const form = /** @type {HTMLFormElement} */ (document.querySelector("[data-visit]"));
/** @type {(mark: string) => any} */
const part = (mark) => form.querySelector(mark);
const said = part("[data-said]");

/** @returns {[string, string][]} */
const entries = () => /** @type {any} */ ([...new FormData(form)]);

function asVisit() {
  /** @type {Visit} */
  const visit = {};
  for (const [name, value] of entries()) {
    if (value === "" || name === "asked" || name.startsWith("key_")) continue;
    visit[name] = name in visit ? visit[name] + ";" + value : value;
  }
  return visit;
}

/** Opened from the list of visits that wait: show what was typed then. @param {Visit} visit */
function refill(visit) {
  for (const field of /** @type {Iterable<HTMLInputElement>} */ (/** @type {unknown} */ (form.elements))) {
    if (!field.name || field.name.startsWith("key_") || field.type === "submit") continue;
    const value = visit[field.name] || "";
    if (field.type === "radio") field.checked = field.value === value;
    else if (field.type === "checkbox") field.checked = value.split(";").includes(field.value);
    else field.value = value;
  }
}

const asked = new URLSearchParams(location.hash.slice(1)).get("waiting");
const kept = waiting().find((one) => one.visit.visit_id === asked);
if (kept) refill(kept.visit);

/** What the key says is a part of the page that the server gives for the form as it stands. @param {HTMLButtonElement} button */
async function askWho(button) {
  const answer = part("[data-key-answer]");
  const body = new URLSearchParams(entries());
  body.append(button.name, button.value);
  answer.textContent = "Asking ...";
  try {
    const got = await fetch(location.pathname, { method: "POST", body });
    const page = new DOMParser().parseFromString(await got.text(), "text/html");
    answer.replaceChildren(.../** @type {Element} */ (page.querySelector("[data-key-answer]")).childNodes);
  } catch {
    answer.textContent = "The key needs a connection. Ask again when there is one.";
  }
}

/** @param {string} species */
function choose(species) {
  const list = part("[name=species]");
  list.value = species;
  list.focus();
}

/** Whether the server asks about the visit what this page has not shown yet; no answer in time is none. @param {Visit} visit */
async function isOdd(visit) {
  const shown = part("[name=asked]").value.split(";");
  try {
    const got = await fetch("/api/visits/questions", {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(visit), signal: AbortSignal.timeout(3000),
    });
    return got.ok && (await got.json()).questions.some((/** @type {{ kind: string }} */ one) => !shown.includes(one.kind));
  } catch {
    return false;
  }
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const pressed = /** @type {HTMLButtonElement | null} */ (event.submitter);
  if (pressed?.name === "ask") return askWho(pressed);
  if (pressed?.name === "choose") return choose(pressed.value);
  const visit = asVisit(), button = part("button.button");
  button.disabled = true;
  said.textContent = "Sending ...";
  // The server's own page shows what it asks.
  if (await isOdd(visit)) return form.submit();
  // Kept first: a phone that dies now still has it.
  const safe = keep(visit);
  const result = await send(visit);
  if (result.state === "later") {
    said.textContent = result.said + (safe
      ? " The visit is kept on this device and will be sent again. You can leave this page."
      : " This device cannot keep the visit: leave this page open and send again.");
    tell();
    button.disabled = false;
    return;
  }
  forget(visit);
  if (result.state === "sent") {
    location.href = "/boxes/" + encodeURIComponent(visit.box) + "?saved=yes";
    return;
  }
  // The server's own page shows each fault beside its field, and keeps what was typed.
  form.submit();
});
