// The season strip: how many boxes are in each class on each day, with words, months and the day shown.
import { MONTHS, dateOf } from "./days.js";
import { fillOf, look } from "./look.js";

/** @typedef {import("./seasons.js").Season} Season */
/** @typedef {{ pen: CanvasRenderingContext2D, left: (day: number) => number, lo: number, hi: number }} Axis */

const MONTHS_HIGH = 17, WORD_HIGH = 14;

/** @param {Axis} axis @param {Float64Array} lower @param {Float64Array} upper @param {string} colour */
function band({ pen, left, lo }, lower, upper, colour) {
  pen.beginPath();
  lower.forEach((y, k) => pen.lineTo(left(lo + k), y));
  for (let k = upper.length - 1; k >= 0; k--) pen.lineTo(left(lo + k), upper[k]);
  pen.closePath();
  pen.fillStyle = colour;
  pen.fill();
  pen.strokeStyle = look().ink;
  pen.lineWidth = 0.5;
  pen.stroke();
}

/**
 * Where a word fits whole inside its band: where that is thickest; null where it fits nowhere.
 * @param {Float64Array} lower @param {Float64Array} upper @param {(k: number) => number} left @param {number} half
 */
export function roomInBand(lower, upper, left, half) {
  const last = lower.length - 1;
  let best = null;
  for (let k = 0; k <= last; k++) {
    const x = left(k), thick = lower[k] - upper[k];
    if (thick < WORD_HIGH || x - half < left(0) || x + half > left(last) || (best && thick <= best.thick)) continue;
    let top = -Infinity, bottom = Infinity;
    for (let j = k; j >= 0 && left(j) > x - half; j--) { top = Math.max(top, upper[j]); bottom = Math.min(bottom, lower[j]); }
    for (let j = k; j <= last && left(j) < x + half; j++) { top = Math.max(top, upper[j]); bottom = Math.min(bottom, lower[j]); }
    if (bottom - top >= WORD_HIGH) best = { x, y: (top + bottom) / 2, thick };
  }
  return best;
}

/** @param {Axis} axis @param {Season} season @param {number} height @param {number} width */
function months({ pen, left, lo, hi }, season, height, width) {
  let free = -Infinity;
  for (let d = lo; d <= hi; d++) {
    const day = dateOf(season.first + d);
    if (day.getUTCDate() !== 1) continue;
    pen.fillRect(left(d), 0, 1, height + 4);
    const text = MONTHS[day.getUTCMonth()].slice(0, 3), room = pen.measureText(text).width;
    if (left(d) + 4 < free || left(d) + 4 + room > width) continue;
    pen.fillText(text, left(d) + 4, height + MONTHS_HIGH / 2 + 1);
    free = left(d) + room + 12;
  }
}

/**
 * @param {HTMLCanvasElement} canvas @param {Season} season @param {Int32Array[]} counts
 * @param {import("./types").Symbol[]} symbols @param {number} day
 */
export function drawStrip(canvas, season, counts, symbols, day) {
  const sharp = window.devicePixelRatio || 1, width = canvas.clientWidth, height = canvas.clientHeight - MONTHS_HIGH;
  canvas.width = width * sharp;
  canvas.height = canvas.clientHeight * sharp;
  const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d")), [lo, hi] = season.window();
  pen.scale(sharp, sharp);
  const total = Math.max(1, counts.reduce((sum, own) => sum + own[0], 0));
  const left = (/** @type {number} */ d) => ((d - lo) / Math.max(1, hi - lo)) * width, axis = { pen, left, lo, hi };
  const bands = [];
  let lower = new Float64Array(hi - lo + 1).fill(height);
  for (const own of counts) {
    const upper = lower.map((y, k) => y - (own[lo + k] / total) * height);
    bands.push([lower, upper]);
    lower = upper;
  }
  bands.forEach(([under, over], at) => band(axis, under, over, fillOf(symbols[at].colour)));
  pen.fillStyle = look().ink;
  pen.textBaseline = "middle";
  pen.font = "600 12px system-ui, sans-serif";
  pen.textAlign = "left";
  pen.fillRect(0, height, width, 1);
  months(axis, season, height, width);
  pen.textAlign = "center";
  pen.lineJoin = "round";
  pen.lineWidth = 3;
  pen.strokeStyle = look().paper;
  bands.forEach(([under, over], at) => {
    const { word } = symbols[at], half = pen.measureText(word).width / 2 + 4;
    const place = roomInBand(under, over, (k) => left(lo + k), half);
    if (!place) return;
    pen.strokeText(word, place.x, place.y);
    pen.fillText(word, place.x, place.y);
  });
  for (const [wide, colour] of /** @type {const} */ ([[6, look().paper], [2.5, look().ink]])) {
    pen.fillStyle = colour;
    pen.fillRect(left(day) - wide / 2, 0, wide, height);
  }
}

/**
 * Press or draw along the strip to choose a day; the slider beside it does the same by keyboard.
 * @param {HTMLCanvasElement} canvas @param {() => Season} seasonOf @param {(day: number) => void} onDay
 */
export function chooseOnStrip(canvas, seasonOf, onDay) {
  const choose = (/** @type {PointerEvent} */ event) => {
    const own = canvas.getBoundingClientRect(), [lo, hi] = seasonOf().window();
    const part = Math.max(0, Math.min(1, (event.clientX - own.left) / own.width));
    onDay(Math.round(lo + part * (hi - lo)));
  };
  canvas.addEventListener("pointerdown", (event) => { canvas.setPointerCapture(event.pointerId); choose(event); });
  canvas.addEventListener("pointermove", (event) => { if (event.buttons) choose(event); });
}
