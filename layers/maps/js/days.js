// Days as whole numbers from 1970-01-01, so that no clock change moves them, and in words.

const MS_PER_DAY = 86400000;
const WEEKDAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
export const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August",
  "September", "October", "November", "December"];

/** @param {string} iso */
export const dayNumber = (iso) => Math.round(Date.parse(iso + "T00:00:00Z") / MS_PER_DAY);

/** @param {number} number */
export const isoDay = (number) => dateOf(number).toISOString().slice(0, 10);

/** @param {number} number */
export const dateOf = (number) => new Date(number * MS_PER_DAY);

/** As in "Wed 3 June 2026". @param {string} iso */
export function formatDay(iso) {
  const day = dateOf(dayNumber(iso));
  return WEEKDAYS[day.getUTCDay()] + " " + day.getUTCDate() + " " + MONTHS[day.getUTCMonth()] + " " + day.getUTCFullYear();
}

/** As in "Wed 3 Jun". @param {number} number */
export const shortDay = (number) => formatDay(isoDay(number)).split(" ").slice(0, 3).map((word) => word.slice(0, 3)).join(" ");

/** Whether a text is a day of the calendar: the 31st of February is none. @param {string} text */
export const isDay = (text) => /^\d{4}-\d\d-\d\d$/.test(text) && Number.isFinite(Date.parse(text)) && isoDay(dayNumber(text)) === text;
