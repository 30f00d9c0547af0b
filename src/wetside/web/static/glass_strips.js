/** Strips of a file: rectangles drawn on it are lines of the field below, and lines of the field are drawn. */

import { at } from "/static/glass_view.js";

/** @typedef {{x: number, y: number, w: number, h: number}} Box */

const LEAST = 32;
const svg = /** @type {SVGSVGElement} */ (/** @type {unknown} */ (document.getElementById("sheet")));
const field = /** @type {HTMLTextAreaElement} */ (document.getElementById("boxes"));
const off = /** @type {HTMLButtonElement} */ (document.getElementById("last-off"));
const drawn = /** @type {SVGGElement} */ (svg.querySelector("#drawn"));

/** @returns {Box[]} */
function told() {
  return field.value.split("\n").map((line) => (line.match(/\d+/g) ?? []).map(Number)).filter((one) => one.length === 4)
    .map(([x = 0, y = 0, w = 0, h = 0]) => ({ x, y, w, h }));
}

/** @param {Box | null} [open] the one under the finger */
function show(open = null) {
  const boxes = told();
  off.hidden = boxes.length === 0;
  drawn.replaceChildren(...[...boxes, ...(open ? [open] : [])].map((box) => {
    const shape = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    for (const [name, value] of Object.entries({ x: box.x, y: box.y, width: box.w, height: box.h, class: "chosen" })) shape.setAttribute(name, String(value));
    return shape;
  }));
}

/** @type {{x: number, y: number} | null} */
let from = null;
/** @param {PointerEvent} event @returns {Box} */
function box(event) {
  const view = svg.viewBox.baseVal, to = at(svg, event), start = from ?? to;
  const x = Math.min(view.width, Math.max(start.x, to.x)), y = Math.min(view.height, Math.max(start.y, to.y));
  const left = Math.min(start.x, to.x), top = Math.min(start.y, to.y);
  return { x: left, y: top, w: x - left, h: y - top };
}
svg.addEventListener("pointerdown", (event) => { from = at(svg, event); svg.setPointerCapture(event.pointerId); });
svg.addEventListener("pointermove", (event) => { if (from) show(box(event)); });
svg.addEventListener("pointercancel", () => { from = null; show(); });
svg.addEventListener("pointerup", (event) => {
  if (!from) return;
  const one = box(event);
  from = null;
  if (one.w >= LEAST && one.h >= LEAST) field.value = `${field.value.trim()}\n${one.x}, ${one.y}, ${one.w}, ${one.h}`.trim();
  show();
});
field.addEventListener("input", () => show());
off.addEventListener("click", () => { field.value = field.value.trim().split("\n").slice(0, -1).join("\n"); show(); });
show();
