/** Densities under the pointer and under the cross-hair, pinned with their figures. Values come from the server's linear data. */

import { at } from "/static/glass_view.js";

/** @typedef {{r: number, g: number, b: number}} Triple */
/** @typedef {{density: Triple | null, spread: Triple | null, grain?: Triple | null, say: string}} Reading */
/** @typedef {{file: string, x: number, y: number, found: Reading, kept: boolean}} Pin */

const CALM = 90;
/** @type {Pin[]} */
const pins = [];

/** @param {HTMLElement} place @param {SVGSVGElement} svg @param {() => boolean} wanted @param {(target: EventTarget | null) => boolean} judge */
export function spots(place, svg, wanted, judge) {
  svg.addEventListener("click", (event) => { if (wanted() && !judge(event.target)) pinAt(place, svg, at(svg, event)); });
  hover(place, svg, wanted);
  cross(place, svg);
  for (const one of document.querySelectorAll("#kept-spots [data-x]")) {
    if (one instanceof HTMLElement) pins.push({ file: place.dataset.file ?? "", x: Number(one.dataset.x), y: Number(one.dataset.y), found: JSON.parse(one.dataset.found ?? "{}"), kept: true });
  }
  document.getElementById("keep-pins")?.addEventListener("click", () => keep(place, svg));
  document.getElementById("drop-pins")?.addEventListener("click", () => { for (let i = pins.length; i--;) if (!pins[i]?.kept) pins.splice(i, 1); drawn(svg); });
  svg.addEventListener("moved", () => drawn(svg));
  drawn(svg);
}

/** @param {HTMLElement} place @param {{x: number, y: number}} point @returns {Promise<Reading>} */
async function read(place, point) {
  const answer = await fetch(`${place.dataset.spot}?x=${point.x}&y=${point.y}`);
  if (!answer.ok) return { density: null, spread: null, say: `not read (${answer.status})` };
  return /** @type {Promise<Reading>} */ (answer.json());
}

/** The figure follows a mouse that rests; a finger taps. @param {HTMLElement} place @param {SVGSVGElement} svg @param {() => boolean} wanted */
function hover(place, svg, wanted) {
  let waiting = 0, asked = 0;
  svg.addEventListener("pointermove", (event) => {
    if (event.pointerType !== "mouse" || event.buttons || !wanted()) return;
    clearTimeout(waiting);
    const point = at(svg, event);
    waiting = window.setTimeout(async () => {
      const mine = ++asked;
      const found = await read(place, point);
      if (mine === asked) say(found, point, false);
    }, CALM);
  });
  svg.addEventListener("pointerleave", () => clearTimeout(waiting));
}

/** Arrow keys move a cross-hair, Enter pins what lies under it. @param {HTMLElement} place @param {SVGSVGElement} svg */
function cross(place, svg) {
  const hair = /** @type {SVGGElement | null} */ (svg.querySelector("#cross"));
  if (!hair) return;
  const box = svg.viewBox.baseVal;
  const point = { x: Math.round(box.x + box.width / 2), y: Math.round(box.y + box.height / 2) };
  const put = () => hair.setAttribute("transform", `translate(${point.x} ${point.y})`);
  put();
  let waiting = 0;
  hair.addEventListener("keydown", (event) => {
    const step = Math.max(1, Math.round(svg.viewBox.baseVal.width / (event.shiftKey ? 15 : 150)));
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (way) {
      const now = svg.viewBox.baseVal;
      point.x = Math.min(Math.floor(now.x + now.width) - 1, Math.max(Math.ceil(now.x), point.x + step * Number(way[0])));
      point.y = Math.min(Math.floor(now.y + now.height) - 1, Math.max(Math.ceil(now.y), point.y + step * Number(way[1])));
      put();
      clearTimeout(waiting);
      waiting = window.setTimeout(async () => say(await read(place, point), point, false), 2 * CALM);
    } else if (event.key === "Enter" || event.key === " ") pinAt(place, svg, { ...point });
    else return;
    event.preventDefault();
    event.stopPropagation();
  });
}

/** @param {HTMLElement} place @param {SVGSVGElement} svg @param {{x: number, y: number}} point */
async function pinAt(place, svg, point) {
  const out = /** @type {HTMLElement} */ (document.getElementById("readout"));
  out.textContent = "reading …";
  const found = await read(place, point);
  say(found, point, true);
  if (!found.density) return;
  pins.push({ file: place.dataset.file ?? "", ...point, found, kept: false });
  drawn(svg);
}

/** @param {Reading} found @param {{x: number, y: number}} point @param {boolean} pinned */
function say(found, point, pinned) {
  const out = /** @type {HTMLElement} */ (document.getElementById("readout"));
  out.dataset.pinned = String(pinned);
  out.textContent = said(found) + ` (${point.x}, ${point.y})`;
}

/** @param {Reading} found */
function said(found) {
  if (!found.density || !found.spread) return `cannot say: ${found.say}`;
  const { density, spread } = found;
  const figures = /** @type {("r" | "g" | "b")[]} */ (["r", "g", "b"]).map((c) => `${c} ${density[c].toFixed(3)} ± ${upward(spread[c])}`);
  return `${figures.join("   ")} D, ${found.say}`;
}

/** A spread to a thousandth, rounded away from nothing. @param {number} value */
function upward(value) {
  return (Math.ceil(value * 1000 - 1e-6) / 1000).toFixed(3);
}

/** Pins on the picture and rows of the table. @param {SVGSVGElement} svg */
function drawn(svg) {
  const group = /** @type {SVGGElement} */ (svg.querySelector("#pins"));
  const rows = /** @type {HTMLElement} */ (document.getElementById("pin-rows"));
  const size = svg.viewBox.baseVal.width / (svg.getBoundingClientRect().width || 800);
  group.replaceChildren();
  rows.replaceChildren();
  pins.forEach((pin, index) => {
    const ring = made("circle", { cx: pin.x, cy: pin.y, r: 8 * size, class: pin.kept ? "pin kept" : "pin" });
    const text = made("text", { x: pin.x + 12 * size, y: pin.y + 5 * size, "font-size": 15 * size, "stroke-width": 3.5 * size, class: "pin-text" });
    text.textContent = String(index + 1);
    group.append(ring, text);
    rows.append(row(pin, index, svg));
  });
  const box = /** @type {HTMLElement} */ (document.getElementById("pinned"));
  box.hidden = pins.length === 0;
  /** @type {HTMLButtonElement} */ (document.getElementById("keep-pins")).disabled = pins.every((pin) => pin.kept);
  /** @type {HTMLButtonElement} */ (document.getElementById("drop-pins")).disabled = pins.every((pin) => pin.kept);
  calibrates();
}

/** The way to the calibration, as soon as the roll has spots in the book. */
function calibrates() {
  const way = document.getElementById("calibrates");
  const count = pins.filter((pin) => pin.kept).length + Number(way?.dataset.elsewhere);
  if (!way) return;
  way.hidden = !count;
  way.textContent = `Calibrate from ${count} kept spot${count > 1 ? "s" : ""}`;
}

/** @param {Pin} pin @param {number} index @param {SVGSVGElement} svg */
function row(pin, index, svg) {
  const line = document.createElement("tr");
  const { density, spread, grain } = pin.found;
  const most = spread ? Math.max(spread.r, spread.g, spread.b) : null;
  const grey = grain ? (grain.r + grain.g + grain.b) / 3 : null;
  for (const [text, what] of [
    [String(index + 1), "number"], [`${pin.x}, ${pin.y}`, "number wide-only"],
    ...(/** @type {("r" | "g" | "b")[]} */ (["r", "g", "b"])).map((c) => [density ? density[c].toFixed(3).replace("-", "−") : "–", "number"]),
    [most === null ? "–" : upward(most), "number"], [grey === null ? "–" : grey.toFixed(3), "number"],
  ]) {
    const cell = document.createElement("td");
    cell.textContent = String(text);
    cell.className = String(what);
    line.append(cell);
  }
  const last = document.createElement("td");
  if (pin.kept) last.textContent = "in the book";
  else {
    const away = document.createElement("button");
    away.type = "button";
    away.textContent = "Take off";
    away.setAttribute("aria-label", `Take off pin ${index + 1}`);
    away.addEventListener("click", () => { pins.splice(pins.indexOf(pin), 1); drawn(svg); });
    last.append(away);
  }
  line.append(last);
  return line;
}

/** @param {string} name @param {Record<string, string | number>} attributes */
function made(name, attributes) {
  const one = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) one.setAttribute(key, String(value));
  return one;
}

/** @param {HTMLElement} place @param {SVGSVGElement} svg */
async function keep(place, svg) {
  const out = /** @type {HTMLElement} */ (document.getElementById("readout"));
  const fresh = pins.filter((pin) => !pin.kept);
  const body = JSON.stringify({ spots: fresh.map(({ file, x, y }) => ({ file, x, y })) });
  const answer = await fetch(String(place.dataset.keep), { method: "POST", headers: { "content-type": "application/json" }, body });
  if (!answer.ok) { out.textContent = `not kept (${answer.status}); the pins are still here`; return; }
  for (const pin of fresh) pin.kept = true;
  out.textContent = `${fresh.length} spot${fresh.length > 1 ? "s" : ""} kept as a line of the book`;
  drawn(svg);
}
