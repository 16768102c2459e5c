// The part of the page's address behind "#": what is shown, so that it can be passed on.
import { isDay } from "./days.js";

/** @param {string} hash */
export function readAddress(hash) {
  const given = new URLSearchParams(hash.replace(/^#/, "")), day = given.get("day") || "";
  const [zoom, lat, lon, ...more] = (given.get("at") || "").split("/").map(Number);
  const fits = !more.length && zoom >= 0 && zoom <= 22 && Math.abs(lat) <= 85 && Math.abs(lon) <= 360;
  return {
    day: isDay(day) ? day : null,
    theme: given.get("theme"),
    view: given.get("view") === "list" ? "list" : "map",
    box: given.get("box"),
    at: fits ? { zoom, lat, lon } : null,
  };
}

/**
 * @param {{ day: string, theme: string, view: string, box: string | null, at: { zoom: number, lat: number, lon: number } | null }} shown
 *   `at` only where the map was moved; null = it shows the whole trail
 */
export function addressOf({ day, theme, view, box, at }) {
  const state = new URLSearchParams({ day, theme });
  if (view !== "map") state.set("view", view);
  if (box !== null) state.set("box", box);
  if (at) state.set("at", [at.zoom, at.lat.toFixed(5), at.lon.toFixed(5)].join("/"));
  return "#" + state.toString().replace(/%2F/g, "/");
}
