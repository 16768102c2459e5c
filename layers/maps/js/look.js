// The two looks of a map: dark ink on light ground, and at night light ink on dark ground. A page that has
// a night look sets `--night: 1` in its styles.

const LIGHT = {
  night: false,
  ground: "#f0ecdf", ink: "#1d2a26", paper: "#fbf9f3", soft: "#4c5a54", halo: "rgba(251, 249, 243, 0.92)",
  faint: "rgba(76, 90, 84, 0.35)", chosen: "#8a1c4a", here: "#005a8c",
  words: { start: "#00573f", hazard: "#7c2d00", keep_out: "#7c2d00", landmark: "#44382a", water: "#2c5a72", zone: "#3c5048" },
  zones: {
    water: { fillColor: "#bcd9e6", color: "#5b93ad" },
    building: { fillColor: "#b9a998", color: "#6d5d4c" },
    habitat: { fillColor: "#dfe6cc", color: "#b9c79b" },
    wood: { fillColor: "#c6d7b0", color: "#9db584" },
    keep_out: { fillColor: "#efd9c6", color: "#9c4a1a" },
  },
  path: "#7a5a34", closed: "#9c8f7e", casing: "#fbf9f3", bridge: "#3d2f1d",
};

// Every ground is as dark as the page or darker, so that the symbols' colours have a contrast of at
// least 3 to 1 against it (WCAG 2.2, 1.4.11); tests/js/map.test.js holds that.
/** @type {typeof LIGHT} */
const NIGHT = {
  night: true,
  ground: "#14201c", ink: "#fbf9f3", paper: "#14201c", soft: "#b3bfb8", halo: "rgba(12, 20, 17, 0.92)",
  faint: "rgba(179, 191, 184, 0.35)", chosen: "#f0a8c4", here: "#7cc4f5",
  words: { start: "#6fd3ae", hazard: "#ffab73", keep_out: "#ffab73", landmark: "#e0d2b8", water: "#9ccbe3", zone: "#b9c8bb" },
  zones: {
    water: { fillColor: "#0a1b26", color: "#4a86a3" },
    building: { fillColor: "#241d16", color: "#a58f78" },
    habitat: { fillColor: "#101d14", color: "#3f5540" },
    wood: { fillColor: "#0b1a0e", color: "#3d6138" },
    keep_out: { fillColor: "#24150d", color: "#e08650" },
  },
  path: "#c79e6c", closed: "#8f8371", casing: "#0a1310", bridge: "#e8dcc8",
};

/** @type {{ now: typeof LIGHT }} */
const shown = { now: LIGHT };
export const LOOKS = [LIGHT, NIGHT];

export const look = () => shown.now;

/** Take the look of the page as it is now. */
export function readLook() {
  shown.now = getComputedStyle(document.documentElement).getPropertyValue("--night").trim() === "1" ? NIGHT : LIGHT;
}

/** The fill of a symbol: black and white change places at night. @param {string} colour */
export function fillOf(colour) {
  if (!shown.now.night) return colour;
  return { "#000000": "#ffffff", "#FFFFFF": shown.now.ground }[colour] || colour;
}
