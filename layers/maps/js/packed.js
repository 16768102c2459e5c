// The packed data of packing.py, and where it comes from: an address, or an element of the page.

const MAGIC = 0x42585231;
const KINDS = { i4: Int32Array, i2: Int16Array, u2: Uint16Array, u1: Uint8Array };
const BETWEEN_TEXTS = "\x1f";
const STEP = 16;

/**
 * A column of texts, kept as one string with the start of every 16th: a string each would take three times
 * the memory, and the start of each is half of what the string takes.
 */
export class Texts {
  /** @param {string} all with U+001F between two texts */
  constructor(all) {
    const starts = [0];
    this.length = 1;
    for (let at = all.indexOf(BETWEEN_TEXTS); at >= 0; at = all.indexOf(BETWEEN_TEXTS, at + 1)) {
      if (this.length % STEP === 0) starts.push(at + 1);
      this.length++;
    }
    this.all = all;
    this.starts = Uint32Array.from(starts);
  }

  /** @param {number} i */
  at(i) {
    let start = this.starts[Math.floor(i / STEP)];
    for (let n = i % STEP; n; n--) start = this.all.indexOf(BETWEEN_TEXTS, start) + 1;
    const end = this.all.indexOf(BETWEEN_TEXTS, start);
    return this.all.slice(start, end < 0 ? undefined : end);
  }

  /** The number of a text; -1 = there is none such. @param {string} text */
  indexOf(text) {
    const at = (BETWEEN_TEXTS + this.all + BETWEEN_TEXTS).indexOf(BETWEEN_TEXTS + text + BETWEEN_TEXTS);
    if (at < 0) return -1;
    const block = this.starts.findLastIndex((start) => start <= at);
    return block * STEP + this.all.slice(this.starts[block], at).split(BETWEEN_TEXTS).length - 1;
  }

  [Symbol.iterator]() { return this.all.split(BETWEEN_TEXTS)[Symbol.iterator](); }
}

/**
 * Header and columns of a packed body; the layout is described in packing.py.
 * @param {ArrayBuffer} buffer @returns {any}
 */
export function unpack(buffer) {
  const view = new DataView(buffer);
  if (view.getUint32(0) !== MAGIC) throw new Error("Expected map data, got something else");
  const size = view.getUint32(4, true), text = new TextDecoder();
  const header = JSON.parse(text.decode(new Uint8Array(buffer, 8, size)));
  /** @type {Record<string, unknown>} */
  const columns = { header };
  for (const { name, type, start, count } of header.columns) {
    const at = 8 + size + start;
    const Kind = KINDS[/** @type {keyof typeof KINDS} */ (type)];
    // Numbers are copied, so that the body with its texts can go.
    columns[name] = type === "text" ? new Texts(text.decode(new Uint8Array(buffer, at, count))) : new Kind(buffer, at, count).slice();
  }
  return columns;
}

/** @param {string} id */
async function fromPage(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error("This file does not hold " + id);
  const packed = Uint8Array.from(atob(element.textContent || ""), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
}

/** @param {string} address */
export async function fetchBody(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error("The server answered " + answer.status + " to " + address);
  return answer.arrayBuffer();
}

/** @param {string} source an address, or `#` and the id of an element of this page */
export const load = (source) => source.startsWith("#") ? fromPage(source.slice(1)) : fetchBody(source);

/** @param {string} source */
const loadText = async (source) => new TextDecoder().decode(await load(source));

/** @param {string} source @returns {Promise<any>} */
export const loadJson = async (source) => JSON.parse(await loadText(source));

/**
 * The card of box number `i` on a day as HTML: from its own address, or out of a chunk of the page.
 * @param {string} source @param {number} i @param {string} box @param {string} iso
 * @returns {Promise<string>}
 */
export async function loadCard(source, i, box, iso) {
  const chunk = source.match(/\{chunk:(\d+)\}/);
  if (!chunk) return loadText(source.replace("{box}", encodeURIComponent(box)).replace("{day}", iso));
  const size = Number(chunk[1]);
  return (await loadJson(source.replace(chunk[0], String(Math.floor(i / size)))))[i % size];
}
