// @ts-check
/** One run at the sink: draws the state of the reducer, ticks, and turns taps into events. */
import { Refused, folded, state as stateAt } from "/static/bench/reducer.js";
import { Outbox, ServerClock, freshId, watch } from "/static/bench/link.js";
import { cue, setSound, soundIsOn } from "/static/bench/sound.js";
import { keypad, preflight, showAfter, trouble } from "/static/bench/sheets.js";

/** @param {string} id */
const by = (id) => /** @type {any} */ (document.getElementById(id));
const root = by("bench");
const carried = JSON.parse(root.dataset.carried);
let run = carried.run;
const clock = new ServerClock(run.now);
const outbox = new Outbox(run.id, refused, draw);
outbox.heard = heard;
let wasTurning = false, wasDue = false;

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
  by("key-hold").textContent = state.held_since === null ? "Hold" : "Go on";
  by("key-turned").disabled = state.step === null;
  preflight(by("preflight"), carried.preflight, state, tap);
  const noted = by("events");
  noted.replaceChildren(...events().slice().reverse().map((e) => {
    const li = document.createElement("li");
    const more = e.celsius !== undefined ? ` ${e.celsius} °C` : e.what ? ` ${e.what}` : e.item ? ` ${e.item}` : "";
    li.textContent = `${new Date(e.happened_at * 1000).toLocaleTimeString()} ${e.kind}${more}`;
    return li;
  }));
  showAfter(by("after"), run, state);
  const waiting = outbox.events.length;
  by("link").dataset.waiting = String(waiting);
  tick();
}

/** @param {any} state */
function drawStrip(state) {
  by("strip").replaceChildren(...run.steps.map((/** @type {any} */ step, /** @type {number} */ n) => {
    const li = document.createElement("li"), row = state.steps[n];
    li.style.flexGrow = String(Math.sqrt(step.seconds));
    li.dataset.at = n === state.step ? "now" : row.skipped ? "skipped" : row.emptied_at !== null ? "done" : "ahead";
    if (n === state.step) li.setAttribute("aria-current", "step");
    const name = document.createElement("span"), time = document.createElement("span");
    name.textContent = step.name;
    time.textContent = row.film_s !== null && row.film_s !== undefined ? `had ${minutes(row.film_s)}` : minutes(step.seconds);
    li.append(name, time);
    return li;
  }));
}

function tick() {
  const now = clock.now(), state = stateAt(run, events(), now), time = state.clock;
  const index = state.step ?? Math.min(state.next, run.steps.length - 1), step = run.steps[index];
  by("step-name").textContent = state.held_since !== null ? `${step.name}, held` : state.step === null && state.next < run.steps.length ? `Next: ${step.name}` : step.name;
  by("left").textContent = time ? minutes(time.left_s) : state.finished_at !== null ? "–" : minutes(step.seconds);
  by("left").dataset.server = String(now);
  by("left").dataset.exact = time ? String(time.left_s) : "";
  by("why").textContent = whyText(step, state, time);
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
  if (!time) return `${step.aim_c} °C, ${step.kind === "aim" ? "the time is an aim" : "at least this long"}`;
  if (time.limit_met) return "Time can mend no more: the drain stays at its limit, the rest stays in the film.";
  if (Math.abs(time.mended_s) >= 1) {
    return `Drain moved by ${time.mended_s > 0 ? "+" : "−"}${Math.abs(time.mended_s).toFixed(0)} s for the temperature. This mends the mean density, not the balance of the layers.`;
  }
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
by("key-hold").addEventListener("click", () => tap(stateAt(run, events(), clock.now()).held_since === null ? "hold" : "resume"));
by("key-temperature").addEventListener("click", () => keypad(by("keypad"), (celsius) => tap("temperature", { celsius, of: "tank" })));
by("key-trouble").addEventListener("click", () => {
  const state = stateAt(run, events(), clock.now());
  const role = state.step === null ? "" : run.steps[state.step].role;
  trouble(by("trouble"), carried.troubles, role, (what) => tap("deviation", { what }));
});
by("key-sound").addEventListener("click", () => {
  setSound(!soundIsOn());
  by("key-sound").setAttribute("aria-pressed", String(soundIsOn()));
  by("key-sound").textContent = soundIsOn() ? "Sound on" : "Sound off";
});
watch(run.id, clock, heard, (up) => {
  by("link").textContent = up ? "linked" : "no link: taps are kept and sent later";
  by("link").dataset.up = String(up);
  if (up) void outbox.send();
});
setInterval(tick, 100);
setInterval(() => void outbox.send(), 700);
draw();
