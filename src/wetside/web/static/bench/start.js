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

/** Sets a list to a value that it holds; says whether it does. @param {string} name @param {string | null | undefined} value */
function choose(name, value) {
  const list = field(name), there = !value || [...(list?.options || [])].some((one) => one.value === value);
  if (list && there) list.value = value || "";
  return Boolean(list) && there;
}

/** Everything of the run that this one follows but its rolls; what is no longer there is named. */
function follow() {
  const chosen = field("like")?.selectedOptions[0], said = document.getElementById("like-said");
  if (!chosen || !said) return;
  said.textContent = "";
  if (!chosen.dataset.start) return;
  const was = JSON.parse(chosen.dataset.start), gone = [];
  if (!choose("process", was.process)) gone.push(`process ${was.process}`);
  fit();
  field("push_stops").value = String(was.push_stops || 0);
  /** @type {any} */ (form.elements.namedItem("developer_s")).value = was.developer_s ?? "";
  for (const key of ["tank", "thermometer"]) if (!choose(key, was[key])) gone.push(was[key]);
  for (const [role, bath] of Object.entries(was.baths || {})) if (field(`bath ${role}`) && !choose(`bath ${role}`, String(bath))) gone.push(String(bath));
  (was.rolls || []).slice(0, 1).forEach((/** @type {any} */ one, /** @type {number} */ at) => {
    /** @type {any} */ (form.elements.namedItem(`reel${at + 1}`)).value = one.reel || "";
    choose(`core${at + 1}`, one.core);
    choose(`edge${at + 1}`, one.edge);
  });
  use();
  said.textContent = `Its tank, reel, baths and times stand below; name the rolls. At the sink each step says what it had there.${gone.length ? ` No longer here: ${gone.join(", ")}.` : ""}`;
}

/** @param {FormData} given */
function bodyOf(given) {
  /** @type {Record<string, any>} */
  const body = { process: given.get("process"), rolls: [], baths: {} };
  for (const key of ["note", "tank", "thermometer", "like"]) if (given.get(key)) body[key] = given.get(key);
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
field("like")?.addEventListener("change", follow);
form.addEventListener("change", use);
document.getElementById("one-more")?.addEventListener("click", () => {
  const next = /** @type {HTMLElement | null} */ (form.querySelector(".on-reel[hidden]"));
  if (next) { next.hidden = false; next.querySelector("input")?.focus(); }
  if (!form.querySelector(".on-reel[hidden]")) /** @type {HTMLElement} */ (document.getElementById("one-more")).hidden = true;
});
fit();
use();
export {};
