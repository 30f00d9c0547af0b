/** Glass: read a density under the finger, and take scans that are dropped here. Values come from the server's linear data. */

import { lostFrames } from "/static/glass_lost.js";
import { spots } from "/static/glass_spots.js";
import { at, nearer } from "/static/glass_view.js";

document.querySelector(".strip [aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });

const figure = /** @type {HTMLElement | null} */ (document.querySelector("figure.large"));
if (figure) listen(figure);
lostFrames(figure);
document.addEventListener("keydown", (event) => {
  const writing = event.target instanceof Element && event.target.closest("input:not([type=radio]), select, textarea");
  if (event.key === "n" && !event.ctrlKey && !event.metaKey && !event.altKey && !writing) document.getElementById("next-place")?.click();
});
const drop = document.getElementById("drop");
if (drop) receive(drop);

/** @typedef {{x: number, y: number, w: number, h: number}} Box */

/** @param {HTMLElement} place */
function listen(place) {
  const svg = /** @type {SVGSVGElement} */ (place.querySelector("svg"));
  const choice = () => document.querySelector('input[name="reads"]:checked')?.getAttribute("value") ?? "spot";
  for (const one of document.querySelectorAll('input[name="reads"]')) one.addEventListener("change", () => { place.dataset.reads = choice(); });
  nearer(place, svg, () => choice() === "area");
  spots(place, svg, () => choice() === "spot", judge);
  svg.addEventListener("keydown", (event) => { if ((event.key === "Enter" || event.key === " ") && judge(event.target)) event.preventDefault(); });
  chooseArea(place, svg, () => choice() === "area");
  const form = /** @type {HTMLFormElement} */ (document.getElementById("by-numbers"));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const [x, y, w, h] = ["x", "y", "w", "h"].map((name) => Number(new FormData(form).get(name)));
    readArea(place, { x, y, w, h });
  });
}

/** The first tap of two: a mark is chosen, and its two words appear. @param {EventTarget | null} target */
function judge(target) {
  const mark = target instanceof Element ? /** @type {SVGGElement | null} */ (target.closest(".film-mark")) : null;
  const form = /** @type {HTMLFormElement | null} */ (document.getElementById("verdict"));
  if (!mark || !form) return false;
  for (const one of document.querySelectorAll(".film-mark")) one.classList.toggle("chosen-mark", one === mark);
  for (const name of ["x", "y", "w", "h"]) /** @type {HTMLInputElement} */ (form.elements.namedItem(name)).value = mark.dataset[name] ?? "0";
  const which = /** @type {HTMLElement} */ (document.getElementById("verdict-of"));
  which.textContent = mark.dataset.name ?? "";
  form.hidden = false;
  form.scrollIntoView({ block: "nearest" });
  return true;
}

/** Drag a rectangle; it is read when the finger lifts. @param {HTMLElement} place @param {SVGSVGElement} svg @param {() => boolean} wanted */
function chooseArea(place, svg, wanted) {
  /** @type {{x: number, y: number} | null} */
  let from = null;
  /** @param {PointerEvent} event @returns {Box} */
  const box = (event) => {
    const to = at(svg, event), start = from ?? to;
    return { x: Math.min(start.x, to.x), y: Math.min(start.y, to.y), w: Math.abs(to.x - start.x), h: Math.abs(to.y - start.y) };
  };
  svg.addEventListener("pointerdown", (event) => {
    if (!wanted()) return;
    from = at(svg, event);
    svg.setPointerCapture(event.pointerId);
  });
  svg.addEventListener("pointermove", (event) => { if (from) draw(box(event)); });
  svg.addEventListener("pointerup", (event) => {
    if (!from) return;
    const chosen = box(event);
    from = null;
    if (chosen.w >= 4 && chosen.h >= 4) readArea(place, chosen);
  });
  svg.addEventListener("pointercancel", () => { from = null; });
}

/** @param {Box} box */
function draw(box) {
  const shape = /** @type {Element} */ (document.getElementById("chosen"));
  for (const [name, value] of Object.entries({ x: box.x, y: box.y, width: box.w, height: box.h })) shape.setAttribute(name, String(value));
}

/** @param {HTMLElement} place @param {Box} box */
async function readArea(place, box) {
  draw(box);
  const out = /** @type {HTMLElement} */ (document.getElementById("area"));
  out.textContent = "reading …";
  const answer = await fetch(`${place.dataset.area}?x=${box.x}&y=${box.y}&w=${box.w}&h=${box.h}&frame=${place.dataset.frame ?? 1}`);
  if (!answer.ok) { out.textContent = `The area could not be read (${answer.status}): choose one inside the frame.`; return; }
  out.innerHTML = await answer.text();
}

/** @param {HTMLElement} place */
function receive(place) {
  const input = /** @type {HTMLInputElement} */ (document.getElementById("files"));
  input.addEventListener("change", () => send(place, [...(input.files ?? [])]));
  place.addEventListener("dragover", (event) => { event.preventDefault(); place.dataset.over = ""; });
  place.addEventListener("dragleave", () => { delete place.dataset.over; });
  place.addEventListener("drop", async (event) => {
    event.preventDefault();
    delete place.dataset.over;
    send(place, await filesOf(event.dataTransfer));
  });
}

/** Files of a drop; a folder gives the files directly in it. @param {DataTransfer | null} data @returns {Promise<File[]>} */
async function filesOf(data) {
  if (!data) return [];
  const entries = [...data.items].map((item) => item.webkitGetAsEntry?.()).filter((entry) => entry !== null && entry !== undefined);
  const folders = entries.filter((entry) => entry.isDirectory);
  if (folders.length === 0) return [...data.files];
  const reader = /** @type {FileSystemDirectoryEntry} */ (folders[0]).createReader();
  /** @type {FileSystemEntry[]} */
  const inside = [];
  // A folder is handed out a hundred entries at a time; an empty hand is its end.
  for (;;) {
    /** @type {FileSystemEntry[]} */
    const more = await new Promise((done, failed) => reader.readEntries(done, failed));
    if (more.length === 0) break;
    inside.push(...more);
  }
  const files = inside.filter((entry) => entry.isFile).map((entry) => /** @type {FileSystemFileEntry} */ (entry));
  return Promise.all(files.map((entry) => new Promise((done, failed) => entry.file(done, failed))));
}

/** @param {HTMLElement} place @param {File[]} files */
async function send(place, files) {
  const out = /** @type {HTMLElement} */ (document.getElementById("dropped"));
  const bar = /** @type {HTMLProgressElement} */ (document.getElementById("far"));
  const kinds = /** @type {HTMLInputElement} */ (document.getElementById("files")).accept.split(",");
  const pictures = files.filter((file) => kinds.some((kind) => file.name.toLowerCase().endsWith(kind)));
  if (pictures.length === 0) { out.textContent = files.length ? `None of ${files.length} files is a picture of a known kind: ${kinds.join(" ")}` : "There is no file in it."; return; }
  const onward = () => `/glass/${folder}/look${place.dataset.belongs ? `?to=${encodeURIComponent(place.dataset.belongs)}` : ""}`;
  let folder = "";
  /** @type {string[]} */
  const refused = [];
  bar.hidden = false;
  bar.max = pictures.length + 1;
  for (const [index, file] of pictures.entries()) {
    out.textContent = `taking ${file.name} (${index + 1} of ${pictures.length})`;
    const answer = await fetch(`${place.dataset.to}${encodeURIComponent(file.name)}?into=${folder}`, { method: "PUT", body: file });
    if (answer.ok) folder = (await answer.json()).folder;
    else refused.push(`${file.name}: ${await answer.json().then((/** @type {{what?: string}} */ no) => no.what ?? answer.status, () => answer.status)}`);
    bar.value = index + 1;
  }
  if (refused.length) {
    bar.hidden = true;
    out.textContent = `${refused.length} of ${pictures.length} could not be taken. ${refused.slice(0, 3).join("; ")}${refused.length > 3 ? "; …" : ""} `;
    if (folder) out.append(Object.assign(document.createElement("a"), { href: onward(), className: "button first", textContent: "Look at the others" }));
    return;
  }
  out.textContent = "looking …";
  bar.removeAttribute("value");
  location.assign(onward());
}
