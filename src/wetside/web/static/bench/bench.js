// @ts-check
/** One run at the sink: draws the state of the reducer, ticks, and turns taps into events. */
import { Refused, folded, state as stateAt } from "/static/bench/reducer.js";
import { Outbox, ServerClock, freshId, watch } from "/static/bench/link.js";
import { cue, keepAwake, setSound, soundIsOn } from "/static/bench/sound.js";
import { keypad, more, preflight, showAfter, takeBack, trouble } from "/static/bench/sheets.js";

/** @param {string} id */
const by = (id) => /** @type {any} */ (document.getElementById(id));
const root = by("bench");
const carried = JSON.parse(root.dataset.carried);
let run = carried.run;
const clock = new ServerClock(run.now);
const outbox = new Outbox(run.id, refused, draw);
outbox.heard = heard;
let wasTurning = false, wasDue = false;
/** Where the focus goes when a half sheet closes. @type {HTMLElement | null} */
let back = null;

/** Events the server has, and those still in the outbox, as far as they fold. */
function events() {
  const known = new Set(run.events.map((/** @type {any} */ e) => e.id));
  /** @type {any[]} */
  const all = [...run.events];
  for (const tap of outbox.events.filter((e) => !known.has(e.id))) {
    try { folded(run, [...all, tap]); all.push(tap); } catch (no) { if (!(no instanceof Refused)) throw no; }
  }
  return all;
}

/** @param {any} newer */
function heard(newer) {
  if (newer.events.length < run.events.length) return;
  run = newer;
  draw();
}

/** @param {any} event @param {string} why */
function refused(event, why) {
  const line = document.createElement("p");
  line.className = "said";
  line.dataset.how = "bad";
  line.textContent = `Not noted: ${event.kind} at ${new Date(event.happened_at * 1000).toLocaleTimeString()}. ${why}`;
  by("refusals").append(line);
}

/** @param {string} kind @param {any} [fields] */
export function tap(kind, fields = {}) {
  outbox.put({ id: freshId(), kind, happened_at: clock.now(), ...fields });
}

/** @param {number} seconds */
export function minutes(seconds) {
  const whole = Math.max(0, Math.ceil(Math.abs(seconds) - 1e-9));
  return `${seconds < 0 ? "+" : ""}${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

function draw() {
  const state = stateAt(run, events(), clock.now());
  drawStrip(state);
  const slab = by("act");
  slab.textContent = state.act.say;
  slab.disabled = !state.act.kind;
  slab.dataset.kind = state.act.kind || "";
  by("key-turned").disabled = state.step === null;
  preflight(by("preflight"), carried.preflight, state, tap);
  const noted = by("events"), struck = new Set(state.struck);
  noted.replaceChildren(...events().slice().reverse().map((e) => {
    const li = document.createElement("li");
    li.textContent = words(e);
    if (struck.has(e.id)) li.className = "struck";
    return li;
  }));
  showAfter(by("after"), run, state, tap);
  const waiting = outbox.events.length;
  by("link").dataset.waiting = String(waiting);
  tick();
}

/** One tap in words. @param {any} e */
function words(e) {
  const named = { fill: "pour", full: "all in", empty: "tank empty", agitate: "turned", preflight: e.done === false ? "passed over" : "looked at", strike: "struck a tap through", dry: "film dry" };
  const detail = e.celsius !== undefined ? ` ${e.celsius} °C, ${e.of || "tank"}` : e.what ? ` ${e.what}` : e.item ? ` ${e.item}` : e.say ? ` ${e.say}` : "";
  return `${new Date(e.happened_at * 1000).toLocaleTimeString()} ${named[/** @type {keyof typeof named} */ (e.kind)] || e.kind}${detail}`;
}

/** The last taps that stand, newest first, and whether each may be struck. */
function standing() {
  const all = events(), struck = new Set(all.filter((e) => e.kind === "strike").map((e) => e.strikes));
  const taps = all.filter((e) => e.kind !== "strike" && !struck.has(e.id)).sort((a, b) => b.happened_at - a.happened_at).slice(0, 6);
  return taps.map((event) => ({ event, say: words(event), may: mayStrike(all, event) }));
}

/** @param {any[]} all @param {any} event */
function mayStrike(all, event) {
  try { folded(run, [...all, { id: "try", kind: "strike", happened_at: clock.now(), strikes: event.id }]); return true; } catch (no) {
    if (!(no instanceof Refused)) throw no;
    return false;
  }
}

/** What is seldom wanted: hold, skip, abandon. @returns {[string, string, boolean][]} */
function seldom() {
  const state = stateAt(run, events(), clock.now()), open = state.finished_at === null;
  const next = state.step === null && state.next < run.steps.length ? run.steps[state.next].name : "";
  return [
    [state.held_since === null ? "Hold" : "Go on", state.held_since === null ? "hold" : "resume", open],
    [next ? `Skip ${next}` : "Skip the next bath", "skip", Boolean(next) && open],
    ["Abandon the run", "abandon", open],
  ];
}

/** @param {any} state */
function drawStrip(state) {
  by("strip").replaceChildren(...run.steps.map((/** @type {any} */ step, /** @type {number} */ n) => {
    const li = document.createElement("li"), row = state.steps[n];
    li.style.setProperty("--share", String(Math.min(30, Math.sqrt(step.seconds))));
    li.dataset.at = n === state.step ? "now" : row.skipped ? "skipped" : row.emptied_at !== null ? "done" : "ahead";
    if (n === state.step) li.setAttribute("aria-current", "step");
    const name = document.createElement("span"), time = document.createElement("span");
    name.textContent = step.name;
    time.textContent = row.film_s !== null && row.film_s !== undefined ? `had ${minutes(row.film_s)}` : minutes(step.seconds);
    li.append(name, " ", time);
    return li;
  }));
}

function tick() {
  const now = clock.now(), state = stateAt(run, events(), now), time = state.clock;
  const index = state.step ?? Math.min(state.next, run.steps.length - 1), step = run.steps[index];
  by("step-name").textContent = state.finished_at !== null ? state.act.say : state.held_since !== null ? `${step.name}, held` : state.step === null && state.next < run.steps.length ? `Next: ${step.name}` : step.name;
  const shown = time ? minutes(time.left_s) : state.finished_at !== null ? "" : minutes(step.seconds);
  if (by("left").textContent !== shown) by("left").textContent = shown;
  by("left").dataset.server = String(now);
  by("left").dataset.exact = time ? String(time.left_s) : "";
  by("why").textContent = whyText(step, state, time);
  const was = carried.like?.steps[index] || "";
  by("like").hidden = !was;
  if (by("like").textContent !== was) by("like").textContent = was && `${/^run/i.test(carried.like.run) ? "" : "run "}${carried.like.run} ${was}`;
  level(state, time, step);
  const turn = Boolean(time?.turn_now), due = Boolean(time && time.left_s <= 0 && state.phase === "in the bath");
  by("drawing").dataset.over = turn ? "yes" : "no";
  by("word").textContent = turn ? "Turn the tank" : due ? `Drain ${step.name} now` : state.phase === "in the bath" ? "Let it stand" : "";
  by("act").dataset.due = due ? "yes" : "no";
  if (turn && !wasTurning) cue("turn");
  if (due && !wasDue) cue("drain");
  wasTurning = turn;
  wasDue = due;
}

/** @param {any} step @param {any} state @param {any} time */
function whyText(step, state, time) {
  if (state.finished_at !== null) return state.steps.some((/** @type {any} */ s) => s.filled_at !== null) ? "What to do before the film dries, and one change for next time, stand below." : "";
  if (!time) return `${step.aim_c} °C, ${step.kind === "aim" ? "the time is an aim" : "at least this long"}`;
  if (time.limit_met) return "Time can mend no more: the drain stays at its limit, the rest stays in the film.";
  if (Math.abs(time.mended_s) >= 1) {
    return `Drain moved by ${time.mended_s > 0 ? "+" : "−"}${Math.abs(time.mended_s).toFixed(0)} ± ${Math.max(1, time.mended_spread_s).toFixed(0)} s for the temperature. This mends the mean density, not the balance of the layers.`;
  }
  const row = state.steps[state.step], pour = row.full_at === null ? 0 : row.full_at - row.filled_at;
  if (pour > 15 && time.left_s > 0) return `The pour took ${pour.toFixed(0)} s: counted from its middle, the drain is ${(pour / 2).toFixed(0)} s later than from its start.`;
  if (time.left_s < 0 && step.kind === "minimum") return "Its time is done; longer is fine within its safe hold.";
  return `${step.aim_c} °C, counted from the middle of the fill`;
}

/** @param {any} state @param {any} time @param {any} step */
function level(state, time, step) {
  const full = 178;
  let part = 0;
  if (state.phase === "filling" || state.phase === "draining") part = 0.5;
  else if (time) part = Math.max(0.06, Math.min(1, time.left_s / step.seconds));
  const height = full * part;
  by("liquid").setAttribute("height", String(height));
  by("liquid").setAttribute("y", String(224 - height));
  by("level").setAttribute("y1", String(224 - height));
  by("level").setAttribute("y2", String(224 - height));
}

by("act").addEventListener("click", () => { if (by("act").dataset.kind) tap(by("act").dataset.kind); });
by("key-turned").addEventListener("click", () => tap("agitate"));
by("key-temperature").addEventListener("click", () => {
  const first = stateAt(run, events(), clock.now()).step === null ? "bottle" : "tank";
  alone("keypad", (sheet) => keypad(sheet, (celsius, of) => tap("temperature", { celsius, of }), first));
});
by("key-back").addEventListener("click", () => alone("back", (sheet) => takeBack(sheet, standing(), (event) => tap("strike", { strikes: event.id }))));
by("key-more").addEventListener("click", () => alone("more", (sheet) => more(sheet, seldom(), tap)));
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  for (const sheet of document.querySelectorAll(".half:not([hidden])")) /** @type {HTMLElement} */ (sheet).hidden = true;
  back?.focus();
  back = null;
});
for (const sheet of document.querySelectorAll(".half")) {
  sheet.addEventListener("click", () => { if (/** @type {HTMLElement} */ (sheet).hidden) { back?.focus(); back = null; } });
}

/** Opens one half sheet and closes the others. @param {string} id @param {(sheet:HTMLElement) => void} open */
function alone(id, open) {
  back = /** @type {HTMLElement} */ (document.activeElement);
  for (const sheet of document.querySelectorAll(".half")) /** @type {HTMLElement} */ (sheet).hidden = true;
  open(by(id));
}

by("key-trouble").addEventListener("click", () => {
  const state = stateAt(run, events(), clock.now());
  const role = state.step === null ? "" : run.steps[state.step].role;
  alone("trouble", (sheet) => trouble(sheet, carried.troubles, role, (what) => tap("deviation", { what })));
});
by("key-sound").addEventListener("click", () => {
  setSound(!soundIsOn());
  by("key-sound").setAttribute("aria-pressed", String(soundIsOn()));
  by("key-sound").textContent = soundIsOn() ? "Sound on" : "Sound off";
});
void keepAwake().then((say) => { by("awake").textContent = say; });
watch(run.id, clock, heard, (up) => {
  by("link").textContent = up ? "linked" : "no link, taps kept";
  by("link").dataset.up = String(up);
  if (up) void outbox.send();
});

/** Ticks ten times a second, and once at the very instant at which the shown second changes. */
function ticking() {
  tick();
  const exact = by("left").dataset.exact, left = Number(exact);
  setTimeout(ticking, exact ? Math.min(100, (left - Math.floor(left)) * 1000 + 1) : 100);
}
ticking();
setInterval(() => void outbox.send(), 700);
draw();
