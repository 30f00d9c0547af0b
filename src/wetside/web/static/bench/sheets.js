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

/** @param {HTMLElement} sheet @param {(celsius:number) => void} done */
export function keypad(sheet, done) {
  let typed = "";
  const shown = part("output", "–", "typed"), said = part("p", "", "small");
  const show = () => { shown.textContent = typed ? `${typed} °C` : "– °C"; };
  const keys = document.createElement("div");
  keys.className = "pad";
  for (const sign of ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫"]) {
    const key = part("button", sign);
    if (sign === "⌫") key.setAttribute("aria-label", "Take the last figure back");
    key.onclick = () => {
      if (sign === "⌫") typed = typed.slice(0, -1);
      else if (typed.length < 5 && !(sign === "." && typed.includes("."))) typed += sign;
      show();
    };
    keys.append(key);
  }
  const close = part("button", "Close", "bench-key"), note = part("button", "Note it", "bench-key first");
  close.onclick = () => { sheet.hidden = true; };
  note.onclick = () => {
    const celsius = Number(typed);
    if (!typed || !(celsius >= 0 && celsius <= 100)) { said.textContent = "A temperature is from 0 to 100 °C."; return; }
    done(celsius);
    sheet.hidden = true;
  };
  const row = part("div", "", "pair");
  row.append(close, note);
  sheet.replaceChildren(shown, said, keys, row);
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
        part("p", `${advice.curable}, source ${advice.source}`, "quiet small"), close);
      close.focus();
    };
    list.append(key);
  }
  sheet.replaceChildren(list, close);
  sheet.hidden = false;
  list.querySelector("button")?.focus();
}

/** @param {HTMLElement} place @param {[string, string][]} items @param {any} state @param {(kind:string, fields:any) => void} tap */
export function preflight(place, items, state, tap) {
  place.hidden = state.phase !== "ready";
  if (place.hidden) return;
  const list = part("div", "", "choices");
  for (const [item, say] of items) {
    const key = part("button", say, "bench-key check");
    key.setAttribute("aria-pressed", String(Boolean(state.preflight[item])));
    key.onclick = () => tap("preflight", { item, done: !state.preflight[item] });
    list.append(key);
  }
  place.replaceChildren(part("h2", "Before the first pour"), list);
}

/** @param {HTMLElement} place @param {any} run @param {any} state */
export function showAfter(place, run, state) {
  place.hidden = state.finished_at === null || !run.afterwards;
  if (place.hidden) return;
  const after = run.afterwards, record = /** @type {HTMLAnchorElement} */ (part("a", "Record and labels to print", "button"));
  record.href = `/bench/${run.id}/record`;
  const lines = [part("h2", "One change for next time"), part("p", after.change, "do-now")];
  for (const again of after.redo) lines.push(part("p", again));
  for (const d of after.deviations) lines.push(part("p", `${d.what}${d.bath ? `, ${d.bath}` : ""}: ${d.cost}`, "quiet"));
  if (after.dry_to_dry_s) lines.push(part("p", `From dry to dry ${Math.round(after.dry_to_dry_s / 60)} min.`, "quiet"));
  place.replaceChildren(...lines, record);
}
