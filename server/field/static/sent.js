// The outbox, to be looked at: what waits, what needs an answer, what is saved in the trail.
import { make, makeButton, refill } from "/static/js/dom.js";
import { at } from "/static/web/base.js";
import { addressOf } from "./list.js";
import { sendAsNew, withdraw } from "./recording.js";
import { remove, visitIn } from "./store.js";
import { asTable, inWords } from "./visit.js";

/** @typedef {import("./store.js").Item} Item */
/** @typedef {import("./field.js").Field} Page */

/** @param {Page} page @param {Item} item */
function lineOf(page, item) {
  const visit = visitIn(item), { person } = page.outbox;
  const sendAnew = () => page.refresh().then(() => page.outbox.send());
  const line = make("li", {}, make("p", {}, make("a", { href: addressOf(item.box) }, item.box), " " + item.date + (visit.time ? " " + visit.time : "") + ": " + inWords(visit)));
  if (item.state === "sent" && !visit.withdraws && !page.items.some((other) => visitIn(other).replaces === item.id)) {
    line.append(makeButton("Withdraw", { "aria-label": "Withdraw the visit to " + item.box }, async () => {
      await withdraw(visit, person);
      await sendAnew();
    }));
  }
  if (item.state !== "held") return line;
  line.append(make("p", { className: "mark" }, item.answer), make("div", { className: "quick" },
    makeButton("Change it", {}, () => page.change(item)),
    makeButton("Send it again", {}, () => page.outbox.release(item.id, person)),
    makeButton("It is a second look: send it as a new visit", {}, () => sendAsNew(item, person).then(sendAnew)),
    makeButton("Throw it away", {}, async () => {
      if (!confirm("Throw away the visit to box " + item.box + " of " + item.date + "? It is saved nowhere else.")) return;
      await remove("outbox", item.id);
      page.refresh();
    })));
  return line;
}

/** @param {string} text @param {string} name */
function download(text, name) {
  const link = make("a", { href: URL.createObjectURL(new Blob([text], { type: "text/csv" })), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

/** @param {Page} page @param {HTMLElement} place */
export function showSent(page, place) {
  const { items, outbox } = page;
  const parts = [["held", "Needs an answer"], ["waiting", "Waiting"], ["sent", "Saved in the trail"]].map(([state, title]) => {
    const list = items.filter((item) => item.state === state).reverse();
    return list.length ? make("section", {}, make("h2", {}, title + ": " + list.length), make("ul", { className: "outbox" }, ...list.map((item) => lineOf(page, item)))) : null;
  });
  const open = items.filter((item) => item.state !== "sent");
  refill(place,
    outbox.message ? make("p", { className: "mark" }, outbox.message, outbox.signedOut ? make("a", { href: at("/sign-in") }, " Sign in") : null) : null,
    items.length ? null : make("p", {}, "No visits on this phone."),
    open.length ? make("div", { className: "line" }, makeButton("Send now", { className: "button" }, () => outbox.send()),
      makeButton("Save as file", {}, () => download(asTable(open.map(visitIn)), "visits-" + page.walk.today().date + ".csv"))) : null,
    open.length ? make("p", { className: "hint" }, "A keeper adds the file with “boxround add visits”; a visit that was sent as well is not doubled.") : null,
    ...parts);
}
