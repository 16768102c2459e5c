// Sends the form in the background, and keeps the visit on this device until it is saved.
import { keep, send, tell, waiting } from "./waiting.js";

const form = document.querySelector("[data-visit]");
const said = form.querySelector("[data-said]");

function asVisit() {
  const visit = {};
  for (const [name, value] of new FormData(form)) {
    if (value === "") continue;
    visit[name] = name in visit ? visit[name] + ";" + value : value;
  }
  return visit;
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const visit = asVisit(), button = form.querySelector("button.button");
  button.disabled = true;
  said.textContent = "Sending ...";
  // Kept first: a phone that dies now still has it.
  keep([...waiting().filter((one) => one.visit_id !== visit.visit_id), visit]);
  const result = await send(visit);
  if (result.state === "later") {
    said.textContent = result.said + " The visit is kept on this device and will be sent when there is one. You can leave this page.";
    tell();
    button.disabled = false;
    return;
  }
  keep(waiting().filter((one) => one.visit_id !== visit.visit_id));
  if (result.state === "sent") {
    location.href = "/boxes/" + encodeURIComponent(visit.box) + "?saved=yes";
    return;
  }
  // The server's own page shows each fault beside its field, and keeps what was typed.
  form.submit();
});
