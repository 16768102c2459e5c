// Lets Node load the scripts as pages do: every one is a module, and `/static/js/` is a folder of ours.
import { readFile } from "node:fs/promises";

const FOLDERS = { "/static/js/": "../../layers/maps/js/", "/static/web/": "../../server/web/static/", "/static/field/": "../../server/field/static/", "/static/rounds/": "../../server/rounds/static/" };

export function resolve(name, context, next) {
  const own = Object.keys(FOLDERS).find((address) => name.startsWith(address));
  return next(own ? new URL(FOLDERS[own] + name.slice(own.length), import.meta.url).href : name, context);
}

export async function load(url, context, next) {
  if (!url.endsWith(".js") || url.startsWith("node:")) return next(url, context);
  return { format: "module", source: await readFile(new URL(url)), shortCircuit: true };
}
