// @ts-check
/**
 * The run as a pure state machine: the same reducer as stages/bench/run.py, tested with the same vectors.
 * A bath has four instants: fill, full, drain, empty. State is a fold over the events in the order in which they
 * happened. Nothing here reads a clock.
 *
 * @typedef {{first_s:number, every_s:number, for_s:number}} Agitation
 * @typedef {{name:string, role:string, kind:string, seconds:number, aim_c:number, low_c:number, high_c:number,
 *            safe_hold_s:number, agitation:Agitation, cautions?:string[]}} Step
 * @typedef {{q10:number, q10_spread?:number, steps:Step[], correction_c?:number}} Process
 * @typedef {{id:string, kind:string, happened_at:number, [field:string]:any}} BenchEvent
 */

/** @type {Record<string, Record<string, string>>} */
export const TRANSITIONS = {
  ready: { fill: "filling", skip: "waiting", abandon: "abandoned" },
  filling: { full: "in the bath", drain: "draining", abandon: "abandoned" },
  "in the bath": { drain: "draining", abandon: "abandoned" },
  draining: { empty: "waiting", abandon: "abandoned" },
  waiting: { fill: "filling", skip: "waiting", finish: "finished", abandon: "abandoned" },
};
const BESIDE = ["preflight", "temperature", "agitate", "deviation", "hold", "resume", "note", "dry"];
const AFTERWARDS = ["temperature", "deviation", "note", "preflight", "dry"];
const CLOSED = ["finished", "abandoned"];
const DRAIN_SECONDS = 10;
const TIME_LIMIT = 0.15;

export class Refused extends Error {}

/** @param {Process} process */
export function newState(process) {
  return {
    phase: "ready", step: /** @type {number|null} */ (null), next: 0, held_since: /** @type {number|null} */ (null),
    steps: process.steps.map((step) => /** @type {any} */ ({
      name: step.name, skipped: false, filled_at: null, full_at: null, drained_at: null, emptied_at: null, turns: 0,
    })),
    temperatures: /** @type {{at:number, celsius:number, of:string}[]} */ ([]),
    deviations: /** @type {any[]} */ ([]), preflight: /** @type {Record<string, boolean>} */ ({}),
    notes: /** @type {any[]} */ ([]), last_turn_at: /** @type {number|null} */ (null),
    finished_at: /** @type {number|null} */ (null), dry_at: /** @type {number|null} */ (null),
    struck: /** @type {string[]} */ ([]),
  };
}

/** @param {Process} process @param {BenchEvent[]} events */
export function folded(process, events) {
  const state = newState(process);
  const struck = new Set(events.filter((e) => e.kind === "strike").map((e) => e.strikes));
  for (const event of [...events].sort((a, b) => a.happened_at - b.happened_at)) {
    if (struck.has(event.id)) state.struck.push(event.id);
    else if (event.kind !== "strike") apply(process, state, event);
  }
  return state;
}

/** @param {Process} process @param {any} state @param {BenchEvent} event */
export function apply(process, state, event) {
  const { kind, happened_at: at } = event;
  if (BESIDE.includes(kind)) return beside(state, event);
  const next = TRANSITIONS[state.phase]?.[kind];
  if (!next) throw new Refused(`${kind} cannot follow while the run is ${state.phase}${expected(state.phase)}`);
  const row = state.step === null ? null : state.steps[state.step];
  if (kind === "fill") {
    const index = state.next;
    if (index >= process.steps.length) throw new Refused("every bath is done; what is left is to finish");
    if (event.step != null && event.step !== index) {
      throw new Refused(`the next bath is step ${index} (${process.steps[index].name}); found step ${event.step}`);
    }
    state.steps[index].filled_at = at;
    Object.assign(state, { step: index, next: index + 1, held_since: null, last_turn_at: null });
  } else if (kind === "skip") {
    const index = state.next;
    if (index >= process.steps.length) throw new Refused("no bath is left to skip");
    state.steps[index].skipped = true;
    state.next = index + 1;
    state.deviations.push({ at, what: "step skipped", step: index, say: "" });
  } else if (kind === "finish") {
    const left = state.steps.slice(state.next).map((/** @type {any} */ s) => s.name);
    if (left.length) throw new Refused(`${left.join(", ")} not done; skip what is left, or abandon the run`);
  } else if (kind === "full") row.full_at = at;
  else if (kind === "drain") row.drained_at = at;
  else if (kind === "empty") { row.emptied_at = at; state.step = null; }
  if (kind === "finish" || kind === "abandon") { state.finished_at = at; state.held_since = null; }
  state.phase = next;
}

/** @param {string} phase */
function expected(phase) {
  return TRANSITIONS[phase] ? `; expected ${Object.keys(TRANSITIONS[phase]).join(", ")}` : "; it is closed";
}

/** @param {any} state @param {BenchEvent} event */
function beside(state, event) {
  const { kind, happened_at: at } = event;
  if (CLOSED.includes(state.phase) && !AFTERWARDS.includes(kind)) {
    throw new Refused(`the run is ${state.phase}; ${kind} belongs to an open run`);
  }
  if (kind === "preflight") state.preflight[event.item] = event.done ?? true;
  else if (kind === "temperature") state.temperatures.push({ at, celsius: event.celsius, of: event.of ?? "tank" });
  else if (kind === "agitate") {
    if (state.step === null) throw new Refused("no bath is in the tank: there is nothing to agitate");
    state.steps[state.step].turns += 1;
    state.last_turn_at = at;
  } else if (kind === "deviation") {
    state.deviations.push({ at, what: event.what, step: state.step, say: event.say || event.note || "" });
  } else if (kind === "hold") {
    if (state.held_since !== null) throw new Refused("the run is held already");
    state.held_since = at;
  } else if (kind === "resume") {
    if (state.held_since === null) throw new Refused("the run is not held");
    state.held_since = null;
  } else if (kind === "dry") {
    if (!CLOSED.includes(state.phase)) throw new Refused("the film is dry only after the run: finish it first");
    state.dry_at = at;
  } else state.notes.push({ at, say: event.say || event.text || "" });
}

/** @param {any} row */
export function middleOfFill(row) { return (row.filled_at + (row.full_at ?? row.filled_at)) / 2; }

/** @param {any} state */
export function drainSeconds(state) {
  for (const row of [...state.steps].reverse()) {
    if (row.emptied_at !== null && row.drained_at !== null) return row.emptied_at - row.drained_at;
  }
  return DRAIN_SECONDS;
}

/** @param {any} row */
export function filmTime(row) {
  if (row.filled_at === null || row.drained_at === null) return null;
  return (row.drained_at + (row.emptied_at ?? row.drained_at)) / 2 - middleOfFill(row);
}

/** @param {Process} process @param {any} state @param {any} row @returns {[number, number][]} */
function tankReadings(process, state, row) {
  const last = row.emptied_at ?? Infinity;
  return state.temperatures
    .filter((/** @type {any} */ t) => t.of === "tank" && t.at >= row.filled_at && t.at <= last)
    .map((/** @type {any} */ t) => [t.at, t.celsius + (process.correction_c ?? 0)]);
}

/** @param {[number, number][]} known @param {number} when */
function temperatureAt(known, when) {
  if (when <= known[0][0]) return known[0][1];
  for (let i = 1; i < known.length; i++) {
    const [t1, c1] = known[i - 1], [t2, c2] = known[i];
    if (when <= t2) return t2 > t1 ? c1 + ((c2 - c1) * (when - t1)) / (t2 - t1) : c2;
  }
  return known[known.length - 1][1];
}

/** @param {[number, number][]} readings @param {number} start @param {number} end @param {number} aim @param {number} q10 */
export function equivalentTime(readings, start, end, aim, q10) {
  if (end <= start) return 0;
  const known = [...readings].sort((a, b) => a[0] - b[0]);
  const inner = known.map((k) => k[0]).filter((t) => t > start && t < end);
  const knots = [...new Set([start, ...inner, end])].sort((a, b) => a - b);
  let total = 0;
  for (let i = 1; i < knots.length; i++) {
    const [a, b] = [knots[i - 1], knots[i]].map((t) => q10 ** ((temperatureAt(known, t) - aim) / 10));
    total += (knots[i] - knots[i - 1]) * (Math.abs(b - a) < 1e-9 * Math.max(a, b) ? a : (b - a) / Math.log(b / a));
  }
  return total;
}

/** @param {Process} process @param {Step} step @param {any} state @param {any} row @param {number} [q10] @returns {[number, boolean]} */
function wantedFilmTime(process, step, state, row, q10 = process.q10) {
  const readings = tankReadings(process, state, row);
  if (step.kind !== "aim" || step.role !== "developer" || !readings.length) return [step.seconds, false];
  const begin = middleOfFill(row), seconds = step.seconds;
  let low = seconds * (1 - TIME_LIMIT), high = seconds * (1 + TIME_LIMIT);
  const worth = (/** @type {number} */ t) => equivalentTime(readings, begin, begin + t, step.aim_c, q10);
  if (worth(low) >= seconds) return [low, true];
  if (worth(high) <= seconds) return [high, true];
  for (let i = 0; i < 40; i++) {
    const middle = (low + high) / 2;
    if (worth(middle) < seconds) low = middle; else high = middle;
  }
  return [(low + high) / 2, false];
}

/** @param {Process} process @param {Step} step @param {any} state @param {any} row */
function mendedSpread(process, step, state, row) {
  const [a, b] = [-1, 1].map((sign) => wantedFilmTime(process, step, state, row, process.q10 + sign * (process.q10_spread ?? 0))[0]);
  return Math.abs(b - a) / 2;
}

/** @param {Step} step @param {number} elapsed */
export function turning(step, elapsed) {
  const { first_s, every_s, for_s } = step.agitation;
  if (elapsed < 0) return false;
  return elapsed < first_s || (every_s > 0 && elapsed % every_s < for_s);
}

/** @param {Process} process @param {any} state @param {number} now */
export function clock(process, state, now) {
  if (state.step === null) return null;
  const step = process.steps[state.step], row = state.steps[state.step];
  const begin = middleOfFill(row), drain = drainSeconds(state);
  const [wanted, limit] = wantedFilmTime(process, step, state, row);
  const drainAt = begin + wanted - drain / 2;
  return {
    begin, drain_at: drainAt, wanted_s: wanted, mended_s: wanted - step.seconds, mended_spread_s: mendedSpread(process, step, state, row), limit_met: limit,
    left_s: drainAt - now,
    turn_now: turning(step, now - begin) && state.phase === "in the bath" && now < drainAt,
    over_safe: now > drainAt + step.safe_hold_s + drain,
  };
}

/** @param {Process} process @param {any} state */
export function act(process, state) {
  const at = state.step === null ? null : process.steps[state.step];
  if (CLOSED.includes(state.phase)) return { kind: null, say: state.phase === "finished" ? "Finished" : "Abandoned" };
  if (at && state.phase === "filling") return { kind: "full", say: `${at.name} is all in` };
  if (at && state.phase === "in the bath") return { kind: "drain", say: `Drain ${at.name}` };
  if (state.phase === "draining") return { kind: "empty", say: "Tank is empty" };
  if (state.next < process.steps.length) return { kind: "fill", say: `Pour ${process.steps[state.next].name}` };
  return { kind: "finish", say: "Finish the run" };
}

/** @param {Process} process @param {BenchEvent[]} events @param {number} now */
export function state(process, events, now) {
  const result = /** @type {any} */ (folded(process, events));
  process.steps.forEach((step, i) => {
    const row = result.steps[i];
    row.film_s = filmTime(row);
    const readings = row.film_s !== null && step.role === "developer" ? tankReadings(process, result, row) : [];
    const begin = readings.length ? middleOfFill(row) : 0;
    row.worth_s = readings.length ? equivalentTime(readings, begin, begin + row.film_s, step.aim_c, process.q10) : null;
  });
  result.clock = clock(process, result, now);
  result.act = act(process, result);
  return result;
}
