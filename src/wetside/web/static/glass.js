/** Glass: read a density under the finger, and take scans that are dropped here. Values come from the server's linear data. */

/** @typedef {{r: number, g: number, b: number}} Triple */
/** @typedef {{density: Triple | null, spread: Triple | null, say: string}} Reading */

const figure = /** @type {HTMLElement | null} */ (document.querySelector("figure.large"));
if (figure) listen(figure);
const drop = document.getElementById("drop");
if (drop) receive(drop);

/** @param {HTMLElement} place */
function listen(place) {
  const svg = /** @type {SVGSVGElement} */ (place.querySelector("svg"));
  const out = /** @type {HTMLElement} */ (document.getElementById("readout"));
  svg.addEventListener("click", async (event) => {
    const matrix = svg.getScreenCTM();
    if (!matrix) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
    out.textContent = "reading …";
    const answer = await fetch(`${place.dataset.spot}?x=${Math.max(0, Math.round(at.x))}&y=${Math.max(0, Math.round(at.y))}`);
    if (!answer.ok) { out.textContent = `not read: ${answer.status}`; return; }
    const found = /** @type {Reading} */ (await answer.json());
    out.textContent = said(found);
    if (found.density) pin(svg, at.x, at.y, found.density);
  });
}

/** @param {Reading} found */
function said(found) {
  if (!found.density || !found.spread) return `cannot say: ${found.say}`;
  const { r, g, b } = found.density;
  const most = Math.max(found.spread.r, found.spread.g, found.spread.b);
  return `r ${r.toFixed(3)}  g ${g.toFixed(3)}  b ${b.toFixed(3)}  ± ${most.toFixed(3)} D, ${found.say}`;
}

/** @param {SVGSVGElement} svg @param {number} x @param {number} y @param {Triple} density */
function pin(svg, x, y, density) {
  const group = /** @type {SVGGElement} */ (svg.querySelector("#pins"));
  const size = svg.viewBox.baseVal.width / 60;
  const ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
  for (const [name, value] of Object.entries({ cx: x, cy: y, r: size / 2, class: "pin" })) ring.setAttribute(name, String(value));
  const text = document.createElementNS("http://www.w3.org/2000/svg", "text");
  for (const [name, value] of Object.entries({ x: x + size, y: y, "font-size": size, class: "pin-text" })) text.setAttribute(name, String(value));
  text.textContent = `${density.r.toFixed(2)} ${density.g.toFixed(2)} ${density.b.toFixed(2)}`;
  group.append(ring, text);
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
  const inside = await new Promise((done, failed) => reader.readEntries(done, failed));
  const files = inside.filter((entry) => entry.isFile).map((entry) => /** @type {FileSystemFileEntry} */ (entry));
  return Promise.all(files.map((entry) => new Promise((done, failed) => entry.file(done, failed))));
}

/** @param {HTMLElement} place @param {File[]} files */
async function send(place, files) {
  const out = /** @type {HTMLElement} */ (document.getElementById("dropped"));
  const bar = /** @type {HTMLProgressElement} */ (document.getElementById("far"));
  let folder = "";
  bar.hidden = false;
  bar.max = files.length + 1;
  for (const [index, file] of files.entries()) {
    out.textContent = `taking ${file.name} (${index + 1} of ${files.length})`;
    const answer = await fetch(`${place.dataset.to}${encodeURIComponent(file.name)}?into=${folder}`, { method: "PUT", body: file });
    if (!answer.ok) { out.textContent = `${file.name} was refused: ${answer.status}`; continue; }
    folder = (await answer.json()).folder;
    bar.value = index + 1;
  }
  if (!folder) { out.textContent = "no file could be taken"; bar.hidden = true; return; }
  out.textContent = "looking …";
  bar.removeAttribute("value");
  location.assign(`/glass/${folder}/look`);
}
