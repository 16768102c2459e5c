// Sends the form in place, so that no page of a browser's history sends it again; what cannot be
// sent for want of a connection goes to the outbox of this phone, from where it is sent.
import { itemOf, put } from "/static/field/store.js";
import { at } from "/static/web/base.js";

/** @typedef {Record<string, string>} Visit */
const SIGNED_OUT = 401, LATER = [408, 429];

/** @type {HTMLFormElement} */
let form;
/** @type {(mark: string) => any} */
const part = (mark) => form.querySelector(mark);

/** @returns {[string, string][]} */
const entries = () => /** @type {any} */ ([...new FormData(form)]);

function asVisit() {
  /** @type {Visit} */
  const visit = {};
  for (const [name, value] of entries()) {
    if (value === "" || name === "shown" || name.startsWith("key_")) continue;
    visit[name] = name in visit ? visit[name] + ";" + value : value;
  }
  return visit;
}

/** What the key says is a part of the page that the server gives for the form as it is. @param {HTMLButtonElement} button */
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

/** Keep the visit in the outbox, where it is on the disk once this is over. @param {string} why */
async function keep(why) {
  const visit = asVisit();
  try {
    await put("outbox", itemOf(visit));
    part("[data-said]").replaceChildren(why + " The visit is stored on this phone, and sent from ",
      Object.assign(document.createElement("a"), { href: at("/field#sent"), textContent: "its outbox" }), ". You can leave this page.");
  } catch {
    part("[data-said]").textContent = why + " This browser cannot keep the visit: leave this page open and send again.";
  }
}

async function send() {
  const button = part("button.button");
  button.disabled = true;
  part("[data-said]").textContent = "Sending ...";
  try {
    const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(entries()), signal: AbortSignal.timeout(30000) });
    if (answer.ok && answer.redirected) return location.assign(answer.url);
    if (answer.status === SIGNED_OUT) return await keep("Your access has ended: sign in again.");
    if (answer.status >= 500 || LATER.includes(answer.status)) return await keep("The server is not ready for it.");
    // The server's own page shows each fault beside its field, and holds what was typed.
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    document.querySelector("main")?.replaceWith(/** @type {Element} */ (page.querySelector("main")));
    bind();
    document.querySelector("main [role=alert]")?.scrollIntoView();
  } catch {
    await keep("There is no connection.");
  } finally {
    button.disabled = false;
  }
}

function bind() {
  const found = document.querySelector("[data-visit]");
  if (!found) return;
  form = /** @type {HTMLFormElement} */ (found);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const pressed = /** @type {HTMLButtonElement | null} */ (event.submitter);
    if (pressed?.name === "ask") askWho(pressed);
    else if (pressed?.name === "choose") choose(pressed.value);
    else send();
  });
}

bind();
