// Symbols less than one apart are pushed apart, so that each is seen and can be pressed.

const MAX_PASSES = 12;
// Without some slack two that just touch would be pushed for ever.
const SLACK_PX = 0.05;

/**
 * Move points until none is nearer to another than a gap; points on one place part sideways.
 * @param {[number, number][]} points pixels; changed in place @param {number} gap pixels
 */
export function spread(points, gap) {
  const order = points.map((_, at) => at).sort((a, b) => points[a][0] - points[b][0]);
  for (let pass = 0; pass < MAX_PASSES; pass++) {
    let moved = false;
    for (let first = 0; first < order.length; first++) {
      const one = points[order[first]];
      for (let next = first + 1; next < order.length; next++) {
        const other = points[order[next]];
        // Sorted when they began: by now none is farther out of order than the points were moved.
        if (other[0] - one[0] > 3 * gap) break;
        const east = other[0] - one[0], south = other[1] - one[1], apart = Math.hypot(east, south);
        if (apart > gap - SLACK_PX) continue;
        const push = (gap - apart) / 2, [x, y] = apart ? [east / apart, south / apart] : [1, 0];
        one[0] -= x * push;
        one[1] -= y * push;
        other[0] += x * push;
        other[1] += y * push;
        moved = true;
      }
    }
    if (!moved) return;
  }
}
