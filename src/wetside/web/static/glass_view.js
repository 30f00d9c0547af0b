/** The negative nearer: wheel, two fingers, buttons. The picture's own pixels stay the coordinates, so readings do not change. */

/** @typedef {{x: number, y: number, w: number, h: number}} Box */

const NEAREST = 24;

/** A place of the pointer in pixels of the file. @param {SVGSVGElement} svg @param {{clientX: number, clientY: number}} event */
export function at(svg, event) {
  const matrix = svg.getScreenCTM();
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix ? matrix.inverse() : new DOMMatrix());
  return { x: Math.max(0, Math.round(point.x)), y: Math.max(0, Math.round(point.y)) };
}

/** @param {SVGSVGElement} svg @returns {Box} */
function shown(svg) {
  const { x, y, width, height } = svg.viewBox.baseVal;
  return { x, y, w: width, h: height };
}

/** Let a figure be looked at nearer. @param {HTMLElement} place @param {SVGSVGElement} svg @param {() => boolean} busy true while a rectangle is drawn */
export function nearer(place, svg, busy) {
  const whole = shown(svg);
  const image = /** @type {SVGImageElement} */ (svg.querySelector("image"));
  const far = /** @type {HTMLElement | null} */ (document.getElementById("nearness"));
  /** @param {Box} box */
  const show = (box) => {
    const w = Math.min(whole.w, Math.max(whole.w / NEAREST, box.w)), h = w * whole.h / whole.w;
    const x = Math.min(whole.x + whole.w - w, Math.max(whole.x, box.x)), y = Math.min(whole.y + whole.h - h, Math.max(whole.y, box.y));
    svg.setAttribute("viewBox", `${x} ${y} ${w} ${h}`);
    const times = whole.w / w;
    place.dataset.near = times > 1.01 ? "yes" : "no";
    if (far) far.textContent = times > 1.01 ? `${times.toFixed(1)} ×` : "whole frame";
    if (times > 1.6 && place.dataset.fine) { image.setAttribute("href", place.dataset.fine); delete place.dataset.fine; }
    svg.dispatchEvent(new CustomEvent("moved"));
  };
  /** Nearer by a factor, a place of the file staying where it is. @param {number} by @param {{x: number, y: number}} on */
  const by = (by, on) => {
    const now = shown(svg), w = Math.min(whole.w, Math.max(whole.w / NEAREST, now.w / by)), part = w / now.w;
    show({ x: on.x - (on.x - now.x) * part, y: on.y - (on.y - now.y) * part, w, h: 0 });
  };
  const middle = () => { const now = shown(svg); return { x: now.x + now.w / 2, y: now.y + now.h / 2 }; };
  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey && place.dataset.near !== "yes" && event.deltaY > 0) return;
    event.preventDefault();
    by(Math.exp(-event.deltaY * 0.0022), at(svg, event));
  }, { passive: false });
  document.getElementById("nearer")?.addEventListener("click", () => by(1.6, middle()));
  document.getElementById("farther")?.addEventListener("click", () => by(1 / 1.6, middle()));
  document.getElementById("whole")?.addEventListener("click", () => show(whole));
  fingers(place, svg, busy, show, by);
  const look = svg.querySelector("[data-look]");
  if (look instanceof SVGElement) {
    const [x = 0, y = 0, w = 0, h = 0] = ["x", "y", "w", "h"].map((side) => Number(look.dataset[side]));
    const wide = Math.max(5 * w, 5 * h * whole.w / whole.h, whole.w / 4);
    show({ x: x + w / 2 - wide / 2, y: y + h / 2 - wide * whole.h / whole.w / 2, w: wide, h: 0 });
  }
}

/** One finger moves what is near, two bring it nearer. @param {HTMLElement} place @param {SVGSVGElement} svg @param {() => boolean} busy @param {(box: Box) => void} show @param {(by: number, on: {x: number, y: number}) => void} by */
function fingers(place, svg, busy, show, by) {
  /** @type {Map<number, PointerEvent>} */
  const down = new Map();
  let moved = 0;
  svg.addEventListener("pointerdown", (event) => { if (down.size === 0) moved = 0; down.set(event.pointerId, event); });
  for (const end of ["pointerup", "pointercancel", "pointerleave"]) svg.addEventListener(end, (event) => down.delete(/** @type {PointerEvent} */ (event).pointerId));
  svg.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const scale = shown(svg).w / svg.getBoundingClientRect().width;
    if (down.size === 2) {
      const other = [...down.values()].find((one) => one.pointerId !== event.pointerId);
      if (other) {
        const now = Math.hypot(event.clientX - other.clientX, event.clientY - other.clientY);
        const then = Math.hypot(before.clientX - other.clientX, before.clientY - other.clientY);
        const on = at(svg, { clientX: (event.clientX + other.clientX) / 2, clientY: (event.clientY + other.clientY) / 2 });
        if (then > 8) by(now / then, on);
        moved += 20;
      }
    } else if (place.dataset.near === "yes" && !busy()) {
      const now = shown(svg), dx = event.clientX - before.clientX, dy = event.clientY - before.clientY;
      moved += Math.abs(dx) + Math.abs(dy);
      if (moved > 6) show({ x: now.x - dx * scale, y: now.y - dy * scale, w: now.w, h: 0 });
    }
    down.set(event.pointerId, event);
  });
  // A finger that moved the picture, or one of two, is no tap.
  svg.addEventListener("click", (event) => { if (moved > 6) { event.stopImmediatePropagation(); moved = 0; } }, { capture: true });
}
