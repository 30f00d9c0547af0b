// @ts-check
/** Half sheets and lists of the bench: they lie over the keys and never over the count. */

/** @param {string} tag @param {string} text @param {string} [look] */
function part(tag, text, look = "") {
  const node = document.createElement(tag);
  node.textContent = text;
  node.className = look;
  if (tag === "button") node.setAttribute("type", "button");
  return node;
}

/** A source's id in a reader's words; the page carries them. @param {string} source */
function cited(source) {
  return JSON.parse(document.getElementById("bench")?.dataset.cited || "{}")[source] ?? source;
}

const PLACES = [["tank", "In the tank"], ["bottle", "In the bottle"], ["bath", "Water bath"], ["room", "Room"]];

/** @param {HTMLElement} sheet @param {(celsius:number, of:string) => void} done @param {string} first where it is read unless another is tapped */
export function keypad(sheet, done, first) {
  let typed = "", of = first;
  const shown = part("output", "–", "typed"), said = part("p", "", "small");
  const show = () => { shown.textContent = typed ? `${typed} °C` : "– °C"; };
  const where = part("div", "", "places"), keys = part("div", "", "pad");
  for (const [place, say] of PLACES) {
    const key = part("button", say, "small");
    key.onclick = () => { of = place; mark(); };
    key.dataset.place = place;
    where.append(key);
  }
  const mark = () => { for (const key of where.querySelectorAll("button")) key.setAttribute("aria-pressed", String(key.dataset.place === of)); };
  mark();
  for (const sign of ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫"]) {
    const key = part("button", sign);
    if (sign === "⌫") key.setAttribute("aria-label", "Take the last figure back");
    key.onclick = () => {
      if (sign === "⌫") typed = typed.slice(0, -1);
      else if (typed.length < 5 && !(sign === "." && typed.includes("."))) typed += /^\d\d$/.test(typed) && Number(typed + sign) > 100 ? `.${sign}` : sign;
      show();
    };
    keys.append(key);
  }
  const close = part("button", "Close", "bench-key"), note = part("button", "Note it", "bench-key first");
  close.onclick = () => { sheet.hidden = true; };
  note.onclick = () => {
    const celsius = Number(typed);
    if (!typed || typed === "." || !(celsius >= 0 && celsius <= 100)) { said.textContent = "A temperature is from 0 to 100 °C."; return; }
    done(celsius, of);
    sheet.hidden = true;
  };
  const row = part("div", "", "typing");
  row.append(close, shown, note);
  sheet.replaceChildren(row, said, where, keys);
  show();
  sheet.hidden = false;
  keys.querySelector("button")?.focus();
}

/** @param {HTMLElement} sheet @param {any} troubles @param {string} role @param {(what:string) => void} done */
export function trouble(sheet, troubles, role, done) {
  const close = part("button", "Close", "bench-key");
  close.onclick = () => { sheet.hidden = true; };
  const list = part("div", "", "choices");
  for (const what of Object.keys(troubles)) {
    const key = part("button", what[0].toUpperCase() + what.slice(1), "bench-key");
    key.onclick = () => {
      done(what);
      const advice = troubles[what][role] || troubles[what][""];
      sheet.replaceChildren(part("h2", key.textContent || ""), part("p", advice.now, "do-now"), part("p", advice.cost),
        part("p", `${advice.curable}, source: ${cited(advice.source)}`, "quiet small"), close);
      close.focus();
    };
    list.append(key);
  }
  sheet.replaceChildren(list, close);
  sheet.hidden = false;
  list.querySelector("button")?.focus();
}

/**
 * The last taps, each struck through by one more; what something rests on cannot be.
 * @param {HTMLElement} sheet @param {{event:any, say:string, may:boolean}[]} taps @param {(event:any) => void} strike
 */
export function takeBack(sheet, taps, strike) {
  const close = part("button", "Close", "bench-key"), list = part("div", "", "choices");
  close.onclick = () => { sheet.hidden = true; };
  for (const { event, say, may } of taps) {
    const key = /** @type {HTMLButtonElement} */ (part("button", say, "bench-key check"));
    key.disabled = !may;
    key.onclick = () => { strike(event); sheet.hidden = true; };
    list.append(key);
  }
  const words = taps.length ? "Strike a tap through. It stays in the book, as struck." : "Nothing was tapped yet.";
  sheet.replaceChildren(part("h2", "Take back"), part("p", words, "small"), list, close);
  sheet.hidden = false;
  (/** @type {HTMLElement | null} */ (list.querySelector("button:not([disabled])")) ?? close).focus();
}

/** @param {HTMLElement} sheet @param {[string, string, boolean][]} acts word, kind, whether it may be @param {(kind:string) => void} tap */
export function more(sheet, acts, tap) {
  const close = part("button", "Close", "bench-key"), list = part("div", "", "choices");
  close.onclick = () => { sheet.hidden = true; };
  for (const [say, kind, may] of acts) {
    const key = /** @type {HTMLButtonElement} */ (part("button", say, "bench-key"));
    key.disabled = !may;
    key.onclick = () => { tap(kind); sheet.hidden = true; };
    list.append(key);
  }
  sheet.replaceChildren(part("h2", "More"), list, close);
  sheet.hidden = false;
  list.querySelector("button")?.focus();
}

/** @param {HTMLElement} place @param {[string, string][]} items @param {any} state @param {(kind:string, fields:any) => void} tap */
export function preflight(place, items, state, tap) {
  place.hidden = state.phase !== "ready";
  if (place.hidden) return;
  const focused = document.activeElement instanceof HTMLElement ? document.activeElement.dataset.item : undefined;
  const list = part("div", "", "choices"), open = items.filter(([item]) => state.preflight[item] === undefined);
  for (const [item, say] of items) {
    const done = state.preflight[item], key = part("button", say, "bench-key check");
    key.dataset.item = item;
    key.setAttribute("aria-pressed", String(done === true));
    if (done === false) { key.dataset.passed = "yes"; key.append(part("span", "passed over", "small")); }
    key.onclick = () => tap("preflight", { item, done: done !== true });
    list.append(key);
  }
  const rest = part("button", open.length ? `Pass over the ${open.length} left` : "All looked at or passed over", "bench-key");
  rest.dataset.item = "rest";
  /** @type {HTMLButtonElement} */ (rest).disabled = !open.length;
  rest.onclick = () => { for (const [item] of open) tap("preflight", { item, done: false }); };
  place.replaceChildren(part("h2", "Before the first pour"), part("p", "One tap each; what is passed over is noted as such.", "quiet small"), list, rest);
  /** @type {HTMLElement | null} */ (focused ? place.querySelector(`[data-item="${focused}"]`) : null)?.focus();
}

/** @param {number} seconds */
const hours = (seconds) => `${seconds >= 3600 ? `${Math.floor(seconds / 3600)} h ` : ""}${Math.round((seconds % 3600) / 60)} min`;

/** @param {HTMLElement} place @param {any} run @param {any} state @param {(kind:string) => void} tap */
export function showAfter(place, run, state, tap) {
  place.hidden = state.finished_at === null || !run.afterwards;
  if (place.hidden) { delete place.dataset.shown; return; }
  const key = `${run.events.length} ${state.dry_at}`;
  if (place.dataset.shown === key) return;
  place.dataset.shown = key;
  const after = run.afterwards, lines = [part("h2", "One change for next time"), part("p", after.change, "do-now")];
  if (after.redo.length) lines.push(part("h3", "Before it dries"));
  for (const again of after.redo) lines.push(part("p", again));
  for (const one of after.lasting || []) lines.push(part("p", `${one.what} ${one.say} [${cited(one.source)}].`, "quiet"));
  for (const d of after.deviations) lines.push(part("p", `${d.bath ? `${d.bath}, ${d.what}` : d.what[0].toUpperCase() + d.what.slice(1)}: ${d.say ? `${d.say}. ` : ""}${d.cost} (${d.curable}) [${cited(d.source)}]`, "quiet"));
  const dry = part("button", "The film is dry", "bench-key");
  dry.onclick = () => tap("dry");
  if (after.dry_to_dry_s) lines.push(part("p", `From dry to dry ${hours(after.dry_to_dry_s)}.`));
  else if (!after.wet_s && !after.lasting.length) { /* nothing was wet */ }
  else lines.push(part("p", after.wet_s ? `Wet for ${hours(after.wet_s)} so far. From dry to dry is known once the film is dry.` : "", "quiet"), dry);
  const bottles = part("div", "", "bottles"), record = /** @type {HTMLAnchorElement} */ (part("a", "Record and labels to print", "button"));
  record.href = `/bench/${encodeURIComponent(run.id)}/record`;
  place.replaceChildren(...lines, bottles, record);
  void showBottles(bottles, run.id);
}

/** What the bottles can still do after this run. @param {HTMLElement} place @param {string} run */
async function showBottles(place, run) {
  try {
    const { baths } = await (await fetch(`/api/runs/${encodeURIComponent(run)}/baths`)).json();
    if (!baths?.length) return;
    place.replaceChildren(part("h3", "The bottles now"), ...baths.map((/** @type {any} */ b) => part("p", bottleWords(b))));
  } catch {
    place.replaceChildren(part("p", "What the bottles can still do is shown when the server answers again.", "quiet"));
  }
}

/** @param {any} b */
function bottleWords(b) {
  const done = `${b.bath}: ${Math.round(b.done_mm2 / 100)} cm² done`;
  const left = b.left.cannot_say ? `what is left cannot be said; the test: ${b.test}` : b.left.value < 100 ? "nothing left that can be relied on" : `can still do ${Math.round(b.left.value / 100)} ± ${Math.round(b.left.spread / 100)} cm²`;
  return `${done}; ${left}.${b.longer ? ` ${b.longer.say}` : ""}`;
}
