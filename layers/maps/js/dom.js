// Elements of the page. Text from the trail reaches the page here, and only ever as text.

/**
 * The element with an id of the page's frame.
 * @param {string} id @returns {any}
 */
export const find = (id) => document.getElementById(id);

/**
 * An element with properties and children.
 * @param {string} tag
 * @param {Record<string, unknown>} [properties]
 * @param {...(Node | string | null | undefined)} children
 * @returns {any}
 */
export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name in element) Object.assign(element, { [name]: value });
    else element.setAttribute(name, String(value));
  }
  return refill(element, ...children);
}

/**
 * A button and what a press does.
 * @param {string | Node} content @param {Record<string, unknown>} properties @param {() => void} onPress
 * @returns {HTMLButtonElement}
 */
export function makeButton(content, properties, onPress) {
  const button = make("button", { type: "button", ...properties }, content);
  button.addEventListener("click", onPress);
  return button;
}

/**
 * Give an element new children; null is left out.
 * @template {Element} T
 * @param {T} element @param {...(Node | string | null | undefined)} children
 * @returns {T}
 */
export function refill(element, ...children) {
  element.replaceChildren(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

/** Run once the page is drawn and idle; a little later where the browser does not report that. @param {() => void} run */
export const whenIdle = (run) => "requestIdleCallback" in window ? requestIdleCallback(run, { timeout: 1000 }) : setTimeout(run, 50);

/**
 * A small drawing for the eye alone, beside its word.
 * @param {number} width @param {number} height @param {string} className
 * @param {(pen: CanvasRenderingContext2D) => void} draw
 * @returns {HTMLCanvasElement}
 */
export function picture(width, height, className, draw) {
  const sharp = 2, canvas = make("canvas", { width: width * sharp, height: height * sharp, className, "aria-hidden": "true" });
  const pen = canvas.getContext("2d");
  pen.scale(sharp, sharp);
  draw(pen);
  return canvas;
}
