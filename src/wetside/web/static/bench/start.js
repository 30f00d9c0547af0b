// @ts-check
/** Starts a run from the form and goes to it. */
const form = /** @type {HTMLFormElement} */ (document.getElementById("start"));
const said = /** @type {HTMLElement} */ (document.getElementById("start-said"));

/** @param {string} name */
const field = (name) => /** @type {HTMLSelectElement} */ (form.elements.namedItem(name));

/** Bottles and pushes that belong to the chosen process. */
function fit() {
  const chosen = field("process").selectedOptions[0];
  const roles = (chosen.dataset.roles || "").split("|"), push = (chosen.dataset.push || "").split("|").filter(Boolean);
  for (const label of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll("[data-role]"))) {
    label.hidden = !roles.includes(label.dataset.role || "");
  }
  field("push_stops").replaceChildren(...["0", ...push].map((stops) => new Option(stops === "0" ? "none" : `+${stops}`, stops)));
}

/** What the use of the chosen developer asks for. */
function use() {
  const developer = field("bath developer"), place = document.getElementById("longer");
  if (place) place.textContent = developer?.selectedOptions[0]?.dataset.longer || "";
}

/** @param {FormData} given */
function bodyOf(given) {
  /** @type {Record<string, any>} */
  const body = { process: given.get("process"), rolls: [], baths: {} };
  for (const key of ["note", "tank", "thermometer"]) if (given.get(key)) body[key] = given.get(key);
  for (const key of ["room_c", "developer_s"]) {
    const text = String(given.get(key) || "").trim().replace(",", ".");
    if (text) body[key] = Number(text);
    if (Number.isNaN(body[key])) throw new Error(`${key === "room_c" ? "Room" : "Developer time"}: a number is expected, found “${text}”.`);
  }
  if (Number(given.get("push_stops"))) body.push_stops = Number(given.get("push_stops"));
  for (const n of [1, 2, 3, 4]) {
    const roll = String(given.get(`roll${n}`) || "").trim();
    if (roll) body.rolls.push({ roll, reel: String(given.get(`reel${n}`) || "").trim(), core: given.get(`core${n}`), edge: given.get(`edge${n}`) });
    else if (given.get(`reel${n}`)) throw new Error(`Reel ${n} has no roll on it: name the roll or leave the reel empty.`);
  }
  for (const label of /** @type {NodeListOf<HTMLElement>} */ (form.querySelectorAll("[data-role]:not([hidden])"))) {
    const bath = given.get(`bath ${label.dataset.role}`);
    if (bath) body.baths[label.dataset.role || ""] = bath;
  }
  return body;
}

form.addEventListener("submit", async (submitted) => {
  submitted.preventDefault();
  said.textContent = "";
  try {
    const answer = await fetch("/api/runs", {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(bodyOf(new FormData(form))),
    });
    const run = await answer.json();
    if (answer.status === 201) location.href = `/bench/${encodeURIComponent(run.id)}`;
    else said.textContent = run.what;
  } catch (no) {
    said.textContent = no instanceof TypeError ? "The server does not answer. Nothing was started." : /** @type {Error} */ (no).message;
  }
});
field("process").addEventListener("change", fit);
form.addEventListener("change", use);
document.getElementById("one-more")?.addEventListener("click", () => {
  const next = /** @type {HTMLElement | null} */ (form.querySelector(".on-reel[hidden]"));
  if (next) { next.hidden = false; next.querySelector("input")?.focus(); }
  if (!form.querySelector(".on-reel[hidden]")) /** @type {HTMLElement} */ (document.getElementById("one-more")).hidden = true;
});
fit();
use();
export {};
