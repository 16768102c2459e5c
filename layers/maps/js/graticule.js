// Lines of latitude and longitude, for a map with little ground to go by.
import { look } from "./look.js";

const LEAST_PX = 110;

/** The round step in degrees at which lines are so far apart. @param {number} least degrees */
export function roundStep(least) {
  const unit = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((times) => times * unit).find((step) => step >= least) || 10 * unit;
}

/** @param {number} degrees @param {number} step @param {string} letters of plus and minus */
export function degreeWords(degrees, step, letters) {
  const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
  return Math.abs(degrees).toFixed(decimals) + "\u00b0 " + letters[degrees < 0 ? 1 : 0];
}

/** @param {CanvasRenderingContext2D} pen @param {L.Map} map */
export function drawGraticule(pen, map) {
  const { x: wide, y: high } = map.getSize(), bounds = map.getBounds();
  const perPx = (bounds.getEast() - bounds.getWest()) / wide, step = roundStep(perPx * LEAST_PX);
  pen.strokeStyle = look().faint;
  pen.lineWidth = 1;
  pen.fillStyle = look().soft;
  pen.font = "500 12px system-ui, sans-serif";
  pen.textBaseline = "top";
  for (let n = Math.ceil(bounds.getWest() / step); n * step <= bounds.getEast(); n++) {
    const { x } = map.latLngToContainerPoint([bounds.getNorth(), n * step]);
    pen.beginPath(); pen.moveTo(x, 0); pen.lineTo(x, high); pen.stroke();
    pen.fillText(degreeWords(n * step, step, "EW"), x + 4, 4);
  }
  const south = Math.max(bounds.getSouth(), -85), north = Math.min(bounds.getNorth(), 85);
  for (let n = Math.ceil(south / step); n * step <= north; n++) {
    const { y } = map.latLngToContainerPoint([n * step, bounds.getWest()]);
    pen.beginPath(); pen.moveTo(0, y); pen.lineTo(wide, y); pen.stroke();
    pen.fillText(degreeWords(n * step, step, "NS"), 4, y + 3);
  }
}
