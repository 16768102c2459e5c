// The stops of a round, for its list and its map.

/** @typedef {import("/static/js/types").Stop} Stop */

/** The stops of a round, each with all its boxes. @param {import("/static/js/types").Round} round @returns {Stop[]} */
export function stopsOf(round) {
  const stops = new Map();
  for (const stop of round.stops) {
    const key = stop.walker + "-" + stop.order;
    if (stops.has(key)) stops.get(key).boxes.push(stop.box);
    else stops.set(key, { ...stop, key, boxes: [stop.box] });
  }
  return [...stops.values()];
}
