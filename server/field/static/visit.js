// What a visit holds, from taps to the row that is sent. No page, no storage, no clock of its own.

/** @typedef {import("./store.js").Cells} Cells */
/** @typedef {import("./store.js").Draft} Draft */
/** @typedef {{ date: string, day: string, time: string | null, eggs: number | null, young: number | null, young_days: number | null, nest: string | null, adult: string | null, species: string | null, observer: string | null, opened: string | null, text: string }} Seen */
/** @typedef {{ box: string, name: string | null, section: string | null, lat: number | null, lon: number | null, due: boolean, urgency: string, reasons: string[], approach: string, approach_text: string, closed: string | null, expected: string, cautions: string[], last: Seen | null, today: Seen[], hole_mm: number | null, hole_shape: string | null, installed_on: string | null, removed_on: string | null, history: Record<string, any>[] }} Box */
/** @typedef {{ name: string, label: string, kind: string, unit: string | null, least: number | null, most: number | null, words: string[] }} Field */
/** @typedef {{ on: string, version: number, trail: string, units: string, timezone: string, fields: Field[], species: string[], met: string[], figures: Record<string, import("./look.js").Figures>, ages: { days: number, text: string }[], cautions: string[], law: string, boxes: Box[] }} Day */

export const MOST = { eggs: 40, young: 30 };
/** Counts that a tap on the number offers; the rest by + from there. */
export const PAD = [...Array(15).keys()];
export const OPEN = "open";
const LEAVE = "leave";

/** What a person may be offered at a box. @param {Box} box @returns {"open" | "watch" | "leave"} */
export const mayDo = (box) => box.approach === OPEN ? "open" : box.approach === LEAVE ? "leave" : "watch";

/** What formats moments, by time zone: to make one takes a slow phone a millisecond. @type {Map<string, Intl.DateTimeFormat>} */
const FORMATS = new Map();

/** Day and time of a moment where the trail is. @param {Date} moment @param {string} timeZone */
export function localMoment(moment, timeZone) {
  const format = FORMATS.get(timeZone) ?? new Intl.DateTimeFormat("en-GB", {
    timeZone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
  });
  FORMATS.set(timeZone, format);
  const { year, month, day, hour, minute } = /** @type {Record<string, string>} */ (Object.fromEntries(format.formatToParts(moment).map(({ type, value }) => [type, value])));
  return { date: year + "-" + month + "-" + day, time: hour + ":" + minute };
}

/** A count after a tap on + or -; where nothing was counted yet, it starts from the last one. @param {string} cell @param {number | null} ghost @param {number} by @param {number} most */
export function stepped(cell, ghost, by, most) {
  const from = cell === "" ? ghost ?? 0 : Number(cell);
  return String(Math.min(most, Math.max(0, from + by)));
}

/** The same as at the last visit, as far as it can be counted again; null where nothing was. @param {Seen | null} last @returns {Cells | null} */
export function asLastTime(last) {
  if (!last) return null;
  /** @type {Cells} */
  const cells = { opened: "yes" };
  for (const name of /** @type {const} */ (["eggs", "young"])) if (last[name] !== null) cells[name] = String(last[name]);
  if (last.nest) cells.nest = last.nest;
  return "eggs" in cells || "young" in cells || "nest" in cells ? cells : null;
}

/** @returns {Cells} */
export const empty = () => ({ opened: "yes", eggs: "0", young: "0" });

/** @param {Cells} cells */
export const isBlank = (cells) => Object.values(cells).every((cell) => cell.trim() === "");

/** The row that is sent: cells that are filled in, and where, when and by whom. @param {Draft} draft @param {string} observer @returns {Cells} */
export function visitOf(draft, observer) {
  const counted = draft.cells.eggs || draft.cells.young;
  const cells = counted && !draft.cells.opened ? { ...draft.cells, opened: "yes" } : draft.cells;
  const filled = Object.entries(cells).filter(([, cell]) => cell.trim() !== "");
  const { id, box, date, time, replaces } = draft;
  return {
    visit_id: id, box, date, ...(time ? { time } : {}), ...(observer ? { observer } : {}), ...Object.fromEntries(filled),
    ...(replaces ? { replaces } : {}),
  };
}

/** The row as the trail will hold it, with counts as numbers: what the questions look at. @param {Cells} visit @returns {Record<string, any>} */
export function asStored({ date, time: _, ...visit }) {
  const counts = ["eggs", "young", "young_days", "dead_young"].filter((name) => visit[name]);
  return { ...visit, seen_on: date, ...Object.fromEntries(counts.map((name) => [name, Number(visit[name])])) };
}

/** The row that takes a visit back. @param {Cells} visit @param {string} id @returns {Cells} */
export const withdrawalOf = (visit, id) => ({ visit_id: id, box: visit.box, date: visit.date, replaces: visit.visit_id, withdraws: "yes" });

/** Who made a visit, and when. @param {{ observer?: string | null, time?: string | null }} visit */
export const byWhom = ({ observer, time }) => (observer || "another observer") + (time ? " at " + time : "");

/** A stored visit as it is sent. @param {Record<string, any>} stored @param {string} timezone @returns {Record<string, string>} */
export function asSent({ seen_on, seen_at, entered_at, ...rest }, timezone) {
  const cells = Object.entries(rest).filter(([, cell]) => cell !== null).map(([name, cell]) => [name, String(cell)]);
  const time = seen_at ? { time: localMoment(new Date(seen_at), timezone).time } : {};
  return { ...Object.fromEntries(cells), date: seen_on, ...time };
}

/** @param {Cells} visit */
export function inWords(visit) {
  if (visit.withdraws) return "withdrawn";
  const parts = [];
  for (const [name, one, many] of [["eggs", "egg", "eggs"], ["young", "young", "young"], ["dead_young", "dead young", "dead young"]]) {
    if (visit[name]) parts.push(visit[name] + " " + (visit[name] === "1" ? one : many));
  }
  for (const name of ["adult", "nest", "signs", "actions"]) if (visit[name]) parts.push(name + " " + visit[name].replaceAll(";", ", "));
  if (!parts.length && visit.opened === "no") parts.push("not opened");
  return [...parts, visit.note].filter(Boolean).join("; ");
}

/** The visits as a table that `boxround add visits` reads. @param {Cells[]} visits */
export function asTable(visits) {
  const names = [...new Set(visits.flatMap((visit) => Object.keys(visit)))];
  const line = (/** @type {string[]} */ cells) => cells.map((cell) => /[",\n\r;]/.test(cell) ? '"' + cell.replaceAll('"', '""') + '"' : cell).join(",");
  return [line(names), ...visits.map((visit) => line(names.map((name) => visit[name] ?? "")))].join("\r\n") + "\r\n";
}
