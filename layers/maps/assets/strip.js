// The season strip: how many boxes are in each class on each day, with words, months and the day shown.
"use strict";

(function () {
  const INK = "#1d2a26", PAPER = "#fbf9f3";
  const MONTHS_HIGH = 17, WORD_HIGH = 14;

  function band(pen, lower, upper, left, lo, symbol) {
    pen.beginPath();
    lower.forEach((y, k) => pen.lineTo(left(lo + k), y));
    for (let k = upper.length - 1; k >= 0; k--) pen.lineTo(left(lo + k), upper[k]);
    pen.closePath();
    pen.fillStyle = symbol.colour;
    pen.fill();
    pen.strokeStyle = INK;
    pen.lineWidth = 0.5;
    pen.stroke();
  }

  // The class's word where its band is thickest, if the whole word fits inside the band there.
  function word(pen, lower, upper, left, lo, text) {
    const half = pen.measureText(text).width / 2 + 4, last = lower.length - 1;
    let best = null;
    for (let k = 0; k <= last; k++) {
      const x = left(lo + k), thick = lower[k] - upper[k];
      if (thick < WORD_HIGH || x - half < left(lo) || x + half > left(lo + last) || (best && thick <= best.thick)) continue;
      let top = -Infinity, bottom = Infinity;
      for (let j = k; j >= 0 && left(lo + j) > x - half; j--) { top = Math.max(top, upper[j]); bottom = Math.min(bottom, lower[j]); }
      for (let j = k; j <= last && left(lo + j) < x + half; j++) { top = Math.max(top, upper[j]); bottom = Math.min(bottom, lower[j]); }
      if (bottom - top >= WORD_HIGH) best = { x: x, y: (top + bottom) / 2, thick: thick };
    }
    if (!best) return;
    pen.strokeText(text, best.x, best.y);
    pen.fillText(text, best.x, best.y);
  }

  function months(pen, season, left, lo, hi, height, width) {
    let free = -Infinity;
    for (let d = lo; d <= hi; d++) {
      const day = new Date((season.first + d) * 86400000);
      if (day.getUTCDate() !== 1) continue;
      pen.fillRect(left(d), 0, 1, height + 4);
      const text = day.toLocaleDateString("en-GB", { month: "short", timeZone: "UTC" }), room = pen.measureText(text).width;
      if (left(d) + 4 < free || left(d) + 4 + room > width) continue;
      pen.fillText(text, left(d) + 4, height + MONTHS_HIGH / 2 + 1);
      free = left(d) + room + 12;
    }
  }

  boxround.drawStrip = function (canvas, season, counts, symbols, day) {
    const sharp = window.devicePixelRatio || 1, width = canvas.clientWidth, height = canvas.clientHeight - MONTHS_HIGH;
    canvas.width = width * sharp;
    canvas.height = canvas.clientHeight * sharp;
    const pen = canvas.getContext("2d"), [lo, hi] = season.window();
    pen.scale(sharp, sharp);
    const total = Math.max(1, counts.reduce((sum, own) => sum + own[0], 0));
    const left = (d) => ((d - lo) / Math.max(1, hi - lo)) * width;
    const bands = [];
    let lower = new Float64Array(hi - lo + 1).fill(height);
    for (const own of counts) {
      const upper = lower.map((y, k) => y - (own[lo + k] / total) * height);
      bands.push([lower, upper]);
      lower = upper;
    }
    bands.forEach(([under, over], at) => band(pen, under, over, left, lo, symbols[at]));
    pen.fillStyle = INK;
    pen.textBaseline = "middle";
    pen.font = "600 12px system-ui, sans-serif";
    pen.textAlign = "left";
    pen.fillRect(0, height, width, 1);
    months(pen, season, left, lo, hi, height, width);
    pen.textAlign = "center";
    pen.lineJoin = "round";
    pen.lineWidth = 3;
    pen.strokeStyle = PAPER;
    bands.forEach(([under, over], at) => word(pen, under, over, left, lo, symbols[at].word));
    for (const [wide, colour] of [[6, PAPER], [2.5, INK]]) {
      pen.fillStyle = colour;
      pen.fillRect(left(day) - wide / 2, 0, wide, height);
    }
  };

  // Press or draw along the strip to choose a day; the slider beside it does the same by keyboard.
  boxround.chooseOnStrip = function (canvas, seasonOf, onDay) {
    const choose = (event) => {
      const own = canvas.getBoundingClientRect(), [lo, hi] = seasonOf().window();
      const part = Math.max(0, Math.min(1, (event.clientX - own.left) / own.width));
      onDay(Math.round(lo + part * (hi - lo)));
    };
    canvas.addEventListener("pointerdown", (event) => { canvas.setPointerCapture(event.pointerId); choose(event); });
    canvas.addEventListener("pointermove", (event) => { if (event.buttons) choose(event); });
  };
})();
