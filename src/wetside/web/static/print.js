/** Print: change a frame's lights and see it at once; nothing is written until the lights are kept. */

import { greysOf } from "./greys.js";

/** @typedef {[number, number, number]} Trim */

const STEP_STOP = Math.log10(2);
const MOST = 1.5;
const LAYERS = /** @type {const} */ (["r", "g", "b"]);
const room = document.getElementById("room");
if (room) enter(room);

/** @template {Element} T @param {string} id @returns {T} */
function by(id) { return /** @type {T} */ (/** @type {unknown} */ (document.getElementById(id))); }

/** @param {string | undefined} text @returns {Trim} */
function trimOf(text) {
  const [r = 0, g = 0, b = 0] = (text ?? "").split(" ").map(Number);
  return [r, g, b];
}

/** @param {number} value @param {number} digits */
function signed(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  return Number(text) === 0 ? text : `${value < 0 ? "−" : "+"}${text}`;
}

/** @param {HTMLElement} place */
function enter(place) {
  const links = /** @type {HTMLAnchorElement[]} */ ([...document.querySelectorAll(".positives a")]);
  /** @type {Map<string, Trim>} */
  const kept = new Map(links.map((link) => [String(link.dataset.file), trimOf(link.dataset.trim)]));
  kept.set("", trimOf(place.dataset.balance));
  /** @type {Map<string, Trim>} */
  const now = new Map([...kept].map(([file, trim]) => [file, /** @type {Trim} */ ([...trim])]));
  let current = /** @type {HTMLAnchorElement} */ (links.find((link) => link.hasAttribute("aria-current")) ?? links[0]);
  const corrections = /** @type {HTMLInputElement[]} */ ([...document.querySelectorAll("[data-correction]")]);
  const everything = corrections.map((one) => one.dataset.correction).join(".");
  const left = () => corrections.filter((one) => !one.checked).map((one) => one.dataset.correction).join(".");
  const split = /** @type {HTMLInputElement} */ (by("split"));
  const cutAt = /** @type {HTMLInputElement} */ (by("cut-at")), door = /** @type {HTMLSelectElement} */ (by("door"));
  const svg = /** @type {SVGSVGElement} */ (by("positive")), readout = by("readout");
  const keep = /** @type {HTMLButtonElement} */ (by("keep")), drop = /** @type {HTMLButtonElement} */ (by("drop"));
  const whose = () => document.querySelector('input[name="whose"]:checked')?.getAttribute("value") === "roll" ? "" : String(current.dataset.file);
  /** @param {string} file @returns {Trim} */
  const trim = (file) => now.get(file) ?? [0, 0, 0];
  const size = () => ({ width: Number(current.dataset.width), height: Number(current.dataset.height) });
  const alone = /** @type {HTMLInputElement} */ (by("alone"));
  /** What is seen of the frame, in pixels of the file. */
  const view = () => {
    const { width, height } = size();
    const [x, y, w, h] = alone.checked ? (current.dataset.cut ?? "").split(" ").map(Number) : [0, 0, width, height];
    return { x, y, width: w, height: h };
  };

  /** Degrees, clockwise, by which the picture lies askew in its scan; shown alone it is set straight. */
  const turn = () => (alone.checked ? Number(current.dataset.turn) : 0);
  /** Where a place that is seen lies in the frame. @param {number} x @param {number} y @returns {[number, number]} */
  const inFrame = (x, y) => {
    const seen = view(), angle = (turn() * Math.PI) / 180, cx = seen.x + seen.width / 2, cy = seen.y + seen.height / 2;
    return [Math.round(cx + Math.cos(angle) * (x - cx) - Math.sin(angle) * (y - cy)), Math.round(cy + Math.sin(angle) * (x - cx) + Math.cos(angle) * (y - cy))];
  };

  /** @param {HTMLAnchorElement} link @param {string} leave @param {number} width */
  const address = (link, leave, width) => {
    const own = trim(String(link.dataset.file)), all = trim("");
    const [r, g, b] = own.map((value, i) => (value + all[i]).toFixed(4));
    return `${link.dataset.at}/picture.jpg?r=${r}&g=${g}&b=${b}&leave=${leave}&door=${door.value}&width=${width}${greys.query()}`;
  };
  /** A small picture of a frame, cut as the large one is. @param {HTMLAnchorElement} link */
  const small = (link) => {
    const img = /** @type {HTMLImageElement} */ (link.querySelector("img"));
    const [, , w, h] = alone.checked ? (link.dataset.cut ?? "").split(" ").map(Number) : [0, 0, Number(link.dataset.width), Number(link.dataset.height)];
    img.height = Math.round((180 * h) / w);
    img.src = `${address(link, left(), 180)}&alone=${alone.checked}`;
  };
  const greys = greysOf({ at: String(place.dataset.at), current: () => current, links, show: (link) => show(link), redrawn: () => { drawn(); links.forEach(thumb); } });
  const picture = latest(by("picture")), scanned = latest(by("scanned"));
  const drawn = () => {
    picture(address(current, left(), 800));
    if (split.checked) scanned(address(current, everything, 800));
    const seen = view(), x = seen.x + (seen.width * Number(cutAt.value)) / 100;
    svg.setAttribute("viewBox", `${seen.x} ${seen.y} ${seen.width} ${seen.height}`);
    set(by("seen-area"), seen);
    const middle = `${seen.x + seen.width / 2} ${seen.y + seen.height / 2}`;
    for (const id of ["set-straight", "scanned-straight", "spots"]) set(by(id), { transform: `rotate(${-turn()} ${middle})` });
    set(by("cut-area"), { width: split.checked ? x : 0, height: size().height });
    set(by("cut-line"), { x1: x, x2: x, y2: size().height, visibility: split.checked ? "visible" : "hidden" });
    by("scanned").toggleAttribute("hidden", !split.checked);
    by("split-at").toggleAttribute("hidden", !split.checked);
  };
  /** @type {Map<HTMLAnchorElement, number>} */
  const soon = new Map();
  /** A thumbnail a little later, so that a held key does not ask for each in between. @param {HTMLAnchorElement} link */
  const thumb = (link) => {
    clearTimeout(soon.get(link));
    soon.set(link, setTimeout(() => small(link), 220));
  };
  const changed = () => [...now].filter(([file, value]) => value.some((v, i) => Math.abs(v - trimOrZero(kept, file)[i]) > 5e-5));
  const figures = () => {
    const value = trim(whose());
    LAYERS.forEach((layer, i) => {
      const field = /** @type {HTMLInputElement} */ (document.querySelector(`[data-value="${layer}"]`));
      if (document.activeElement !== field || Number(field.value) !== value[i]) field.value = value[i].toFixed(3);
      stops(layer, value[i]);
    });
    const mean = (value[0] + value[1] + value[2]) / 3;
    const shown = document.querySelector('[data-shown="all"]');
    if (shown) shown.textContent = signed(mean, 3);
    stops("all", mean);
    for (const link of links) {
      const own = trim(String(link.dataset.file)), level = (own[0] + own[1] + own[2]) / 3;
      const out = /** @type {Element} */ (link.querySelector("output"));
      out.textContent = own.some((v) => v) ? `${signed(level, 2)} D` : "";
    }
    const many = changed().length;
    keep.disabled = drop.disabled = many === 0;
    keep.textContent = many > 1 ? `Keep the lights (${many} changes)` : "Keep the lights";
  };
  /** @param {string} layer @param {number} value */
  const stops = (layer, value) => {
    const place = document.querySelector(`[data-stops="${layer}"]`);
    if (place) place.textContent = signed(value / STEP_STOP, 2);
  };
  /** @param {Trim} value */
  const change = (value) => {
    const file = whose();
    now.set(file, /** @type {Trim} */ (value.map((v) => Math.round(Math.min(MOST, Math.max(-MOST, v)) * 1e4) / 1e4)));
    by("kept").textContent = "";
    figures();
    drawn();
    for (const link of file ? [current] : links) thumb(link);
  };
  /** @param {HTMLAnchorElement} link */
  const show = (link) => {
    current.removeAttribute("aria-current");
    current = link;
    link.setAttribute("aria-current", "true");
    svg.setAttribute("aria-label", `Frame ${link.dataset.frame} printed`);
    for (const id of ["picture", "scanned"]) set(by(id), size());
    by("name").textContent = `${link.dataset.frame} · ${link.dataset.file}`;
    history.replaceState(null, "", link.href);
    figures();
    greys.drawn();
    drawn();
  };

  links.forEach((link, i) => {
    link.addEventListener("click", (event) => { event.preventDefault(); show(link); });
    link.addEventListener("keydown", (event) => {
      const next = event.key === "ArrowRight" ? links[i + 1] : event.key === "ArrowLeft" ? links[i - 1] : undefined;
      if (next) { event.preventDefault(); next.focus(); show(next); }
    });
  });
  for (const button of /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll("[data-by]"))) {
    button.addEventListener("click", () => {
      const by = Number(button.dataset.by), layer = button.dataset.layer;
      change(/** @type {Trim} */ (trim(whose()).map((v, i) => (layer === "all" || layer === LAYERS[i] ? v + by : v))));
    });
  }
  LAYERS.forEach((layer, i) => {
    const field = /** @type {HTMLInputElement} */ (document.querySelector(`[data-value="${layer}"]`));
    field.addEventListener("input", () => {
      const value = Number(field.value);
      if (field.value === "" || Number.isNaN(value)) return;
      change(/** @type {Trim} */ (trim(whose()).map((v, at) => (at === i ? value : v))));
    });
    field.addEventListener("blur", figures);
  });
  for (const one of document.querySelectorAll('input[name="whose"]')) one.addEventListener("change", figures);
  for (const one of corrections) one.addEventListener("change", () => { drawn(); links.forEach(thumb); });
  split.addEventListener("change", drawn);
  cutAt.addEventListener("input", drawn);
  alone.addEventListener("change", () => { drawn(); links.forEach(small); });
  door.addEventListener("change", () => {
    for (const say of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-door]"))) say.hidden = say.dataset.door !== door.value;
    drawn();
    links.forEach(thumb);
  });
  by("zero").addEventListener("click", () => change([0, 0, 0]));
  drop.addEventListener("click", () => {
    const back = changed().map(([file]) => file);
    for (const file of back) now.set(file, [...trimOrZero(kept, file)]);
    figures();
    drawn();
    for (const link of back.includes("") ? links : links.filter((l) => back.includes(String(l.dataset.file)))) thumb(link);
  });
  keep.addEventListener("click", async () => {
    const say = by("kept"), sent = changed();
    keep.disabled = true;
    try {
      const answer = await fetch(`${place.dataset.at}/trims`, { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ trims: Object.fromEntries(sent) }) });
      if (!answer.ok) throw new Error(String(answer.status));
      const { lines } = /** @type {{lines: number}} */ (await answer.json());
      for (const [file, value] of sent) kept.set(file, [...value]);
      say.textContent = `${lines} ${lines === 1 ? "line" : "lines"} in the book.`;
    } catch (slip) { say.textContent = `Not kept (${slip instanceof Error ? slip.message : slip}); the lights are still here, try again.`; }
    figures();
  });
  addEventListener("beforeunload", (event) => { if (changed().length || greys.differs()) event.preventDefault(); });
  const make = /** @type {HTMLFormElement} */ (by("make"));
  make.addEventListener("submit", (event) => {
    if (changed().length) { event.preventDefault(); by("kept").textContent = "Keep the lights first, or put them back as they were kept."; keep.focus(); return; }
    if (greys.differs()) { event.preventDefault(); by("greys-say").textContent = "Keep the greys first, or put them back as they were kept."; /** @type {HTMLElement} */ (by("keep-greys")).focus(); return; }
    /** @type {HTMLInputElement} */ (make.elements.namedItem("door")).value = door.value;
    /** @type {HTMLInputElement} */ (make.elements.namedItem("leave")).value = left();
  });
  const crosses = [
  cross(svg, "name-grey", view, (x, y) => greys.add(...inFrame(x, y)), () => crosses[1]()),
  cross(svg, "grey", view, async (seenX, seenY) => {
    const [x, y] = inFrame(seenX, seenY);
    const answer = await fetch(`${current.dataset.at}/grey?x=${x}&y=${y}&leave=${left()}&door=${door.value}${greys.query()}`);
    if (!answer.ok) { readout.textContent = `not read: ${answer.status}`; return; }
    const found = /** @type {{trim: Trim | null, say: string}} */ (await answer.json());
    if (!found.trim) { readout.textContent = `cannot say: ${found.say}`; return; }
    const other = whose() === "" ? trim(String(current.dataset.file)) : trim("");
    const level = trim(whose())[1];
    // Green keeps the level that was chosen; red and blue follow so that the spot prints grey with both trims together.
    const wanted = /** @type {Trim} */ (found.trim.map((v, i) => v - other[i] + other[1] + level));
    change(wanted);
    readout.textContent = `grey at ${x}, ${y}: red ${signed(wanted[0], 3)}, blue ${signed(wanted[2], 3)} D`;
  }, () => crosses[0]())];
  figures();
  drawn();
}

/** @param {Map<string, Trim>} map @param {string} file @returns {Trim} */
function trimOrZero(map, file) { return map.get(file) ?? [0, 0, 0]; }

/** @param {Element} shape @param {Record<string, string | number>} values */
function set(shape, values) { for (const [name, value] of Object.entries(values)) shape.setAttribute(name, String(value)); }

/** A picture that always ends at what was asked last and never has more than one question under way. @param {Element} image */
function latest(image) {
  let wanted = "", asked = "";
  const next = () => {
    if (asked || wanted === image.getAttribute("href")) return;
    asked = wanted;
    const loader = new Image();
    const done = () => { if (loader.complete && loader.naturalWidth) image.setAttribute("href", asked); const again = asked !== wanted; asked = ""; if (again) next(); };
    loader.addEventListener("load", done);
    loader.addEventListener("error", done);
    loader.src = asked;
  };
  return (/** @type {string} */ address) => { wanted = address; next(); };
}

/** A cross for the spot that is to print grey: by pointer, or by arrows and Enter.
 * Returns how to let go. @param {SVGSVGElement} svg @param {string} id @param {() => {x: number, y: number, width: number, height: number}} view
 * @param {(x: number, y: number) => void} take @param {() => void} begun @returns {() => void} */
function cross(svg, id, view, take, begun) {
  const button = /** @type {HTMLButtonElement} */ (by(id)), lines = by("cross");
  let on = false, x = 0, y = 0;
  const drawn = () => {
    const arm = view().width / 40;
    set(lines, { d: `M${x - arm} ${y}h${2 * arm}M${x} ${y - arm}v${2 * arm}`, visibility: on ? "visible" : "hidden" });
  };
  /** @param {boolean} value */
  const turn = (value) => {
    if (value) begun();
    on = value;
    svg.classList.toggle("crossing", on);
    button.setAttribute("aria-pressed", String(on));
    if (on) { const seen = view(); x = Math.round(seen.x + seen.width / 2); y = Math.round(seen.y + seen.height / 2); by("readout").textContent = "Tap something grey, or move the cross."; if (button.getBoundingClientRect().top > innerHeight / 2 || svg.getBoundingClientRect().bottom < 0) svg.scrollIntoView({ block: "nearest" }); }
    else by("readout").textContent = "";
    drawn();
  };
  button.addEventListener("click", () => turn(!on));
  button.addEventListener("keydown", (event) => {
    if (!on) return;
    const seen = view(), far = Math.round(seen.width / (event.shiftKey ? 20 : 100));
    /** @type {Record<string, [number, number]>} */
    const moves = { ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, -far], ArrowDown: [0, far] };
    const move = moves[event.key];
    if (move) {
      event.preventDefault();
      x = Math.min(seen.x + seen.width - 1, Math.max(seen.x, x + move[0]));
      y = Math.min(seen.y + seen.height - 1, Math.max(seen.y, y + move[1]));
      drawn();
    } else if (event.key === "Enter") { event.preventDefault(); turn(false); take(x, y); } else if (event.key === "Escape") turn(false);
  });
  svg.addEventListener("click", (event) => {
    if (!on) return;
    event.stopImmediatePropagation();
    const matrix = svg.getScreenCTM();
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix ? matrix.inverse() : new DOMMatrix());
    turn(false);
    take(Math.max(0, Math.round(point.x)), Math.max(0, Math.round(point.y)));
  });
  return () => { if (on) turn(false); };
}
