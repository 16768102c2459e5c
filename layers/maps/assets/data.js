// The packed data of packing.py, and where it comes from: an address, or an element of the page.
"use strict";
var boxround = {};

(function () {
  const KINDS = { i4: Int32Array, i2: Int16Array, u2: Uint16Array, u1: Uint8Array };

  // Columns of a packed body; the layout is told in packing.py.
  boxround.unpack = function (buffer) {
    const view = new DataView(buffer);
    if (view.getUint32(0) !== 0x42585231) throw new Error("Expected map data, got something else");
    const size = view.getUint32(4, true);
    const text = new TextDecoder();
    const header = JSON.parse(text.decode(new Uint8Array(buffer, 8, size)));
    const found = { header: header };
    for (const column of header.columns) {
      const start = 8 + size + column.start;
      found[column.name] = column.type === "text"
        ? text.decode(new Uint8Array(buffer, start, column.count)).split("\x1f")
        : new KINDS[column.type](buffer, start, column.count);
    }
    return found;
  };

  async function held(id) {
    const element = document.getElementById(id);
    if (!element) throw new Error("This file does not hold " + id);
    const packed = Uint8Array.from(atob(element.textContent), (letter) => letter.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).arrayBuffer();
  }

  async function fetched(address) {
    const answer = await fetch(address);
    if (!answer.ok) throw new Error("The server answered " + answer.status + " to " + address);
    return answer.arrayBuffer();
  }

  boxround.load = (source) => source.startsWith("#") ? held(source.slice(1)) : fetched(source);

  boxround.loadJson = async (source) => JSON.parse(new TextDecoder().decode(await boxround.load(source)));

  // The card of box number `i` with id `box` on a day: from its own address, or out of a chunk of the page.
  boxround.loadCard = async function (source, i, box, iso) {
    const chunk = source.match(/\{chunk:(\d+)\}/);
    if (!chunk) return boxround.loadJson(source.replace("{box}", encodeURIComponent(box)).replace("{day}", iso));
    const size = Number(chunk[1]);
    const cards = await boxround.loadJson(source.replace(chunk[0], Math.floor(i / size)));
    return cards[i % size];
  };

  // Days as whole numbers from 1970-01-01, so that no clock change moves them.
  boxround.dayNumber = (iso) => Math.round(Date.parse(iso + "T00:00:00Z") / 86400000);
  boxround.isoDay = (number) => new Date(number * 86400000).toISOString().slice(0, 10);
  const inWords = (iso, parts) => new Date(iso + "T00:00:00Z").toLocaleDateString("en-GB", { ...parts, timeZone: "UTC" });
  boxround.saidDay = (iso) => inWords(iso, { day: "numeric", month: "long", year: "numeric" });
  boxround.shortDay = (iso) => inWords(iso, { day: "numeric", month: "short" });

  // An element with properties and children; text is only ever set as text.
  boxround.make = function (tag, properties, ...children) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(properties || {})) {
      if (name in element) element[name] = value;
      else element.setAttribute(name, value);
    }
    return boxround.refill(element, ...children);
  };

  // Give an element new children; null stands for none.
  boxround.refill = function (element, ...children) {
    element.replaceChildren(...children.filter((child) => child !== null && child !== undefined));
    return element;
  };
})();
