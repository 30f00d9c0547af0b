"""The run as a pure state machine.

Theory. A run is a row of baths. Film meets one bath from the middle of its fill to the middle of its drain, so a
bath has four instants: the pour starts (fill), the tank is full, the drain starts, the tank is empty. Between
two baths the film waits. `TRANSITIONS` says which of those instants may follow which; everything else that may
be noted (a temperature, a turn of the tank, trouble) leaves the phase alone and is accepted while the run is open.

State is a fold over the events in the order in which they *happened*, never in which they were noted: a tap that
was kept through a dead link takes its own place in time. An event that the fold refuses is refused with the
reason and the state stays what it was. Nothing here reads a clock; `now` is given.

A mis-tap is struck through by a later event of kind `strike` that names it: the fold passes over both, and refuses a
strike that would leave something standing that cannot follow.

The browser keeps the same reducer (`web/static/bench/reducer.js`), tested with the same vectors.
"""

from __future__ import annotations

from typing import Any

from wetside.laws.chemistry.processes import Process, Step
from wetside.laws.thermal.rate import equivalent_time, time_needed

State = dict[str, Any]
Event = dict[str, Any]

#: (phase, kind of event) → next phase. The diagram in docs/bench.md is drawn from this table.
TRANSITIONS: dict[tuple[str, str], str] = {
    ("ready", "fill"): "filling",
    ("ready", "skip"): "waiting",
    ("ready", "abandon"): "abandoned",
    ("filling", "full"): "in the bath",
    ("filling", "drain"): "draining",
    ("filling", "abandon"): "abandoned",
    ("in the bath", "drain"): "draining",
    ("in the bath", "abandon"): "abandoned",
    ("draining", "empty"): "waiting",
    ("draining", "abandon"): "abandoned",
    ("waiting", "fill"): "filling",
    ("waiting", "skip"): "waiting",
    ("waiting", "finish"): "finished",
    ("waiting", "abandon"): "abandoned",
}

#: Events that leave the phase alone; accepted while the run is open, notes and readings also afterwards.
BESIDE = ("preflight", "temperature", "agitate", "deviation", "hold", "resume", "note", "dry")
AFTERWARDS = ("temperature", "deviation", "note", "preflight", "dry")
STRIKE = "strike"
KINDS = (*dict.fromkeys(kind for _, kind in TRANSITIONS), *BESIDE, STRIKE)
CLOSED = ("finished", "abandoned")

#: Clocks of two devices may differ so much (s) before an event counts as from the future.
FUTURE_ALLOWANCE = 5.0

#: A drain is planned to take this long (s) until one was seen in this run.
DRAIN_SECONDS = 10.0


class Refused(Exception):
    """The state's no, with the reason in one line."""


def new_state(process: Process) -> State:
    """Before the first event."""
    return {
        "phase": "ready",
        "step": None,
        "next": 0,
        "held_since": None,
        "steps": [
            {
                "name": step.name, "skipped": False, "filled_at": None, "full_at": None,
                "drained_at": None, "emptied_at": None, "turns": 0,
            }
            for step in process.steps
        ],
        "temperatures": [],
        "deviations": [],
        "preflight": {},
        "notes": [],
        "last_turn_at": None,
        "finished_at": None,
        "dry_at": None,
        "struck": [],
    }  # fmt: skip


def ordered(events: list[Event]) -> list[Event]:
    """In the order in which they happened; equal times in the order they were noted."""
    return sorted(events, key=lambda event: event["happened_at"])


def folded(process: Process, events: list[Event]) -> State:
    """The state after all events; raises `Refused` at the first that cannot follow."""
    state = new_state(process)
    struck = {event["strikes"] for event in events if event["kind"] == STRIKE}
    for event in ordered(events):
        if event["id"] in struck:
            state["struck"].append(event["id"])
        elif event["kind"] != STRIKE:
            apply(process, state, event)
    return state


def apply(process: Process, state: State, event: Event) -> None:
    """Let one event happen to the state, or raise `Refused` and leave it as it was."""
    kind, phase, at = event["kind"], state["phase"], event["happened_at"]
    if kind in BESIDE:
        beside(state, event)
        return
    if (phase, kind) not in TRANSITIONS:
        raise Refused(f"{kind} cannot follow while the run is {phase}{expected(phase)}")
    index = state["step"]
    if kind == "fill":
        index = poured(process, state, event)
    elif kind == "skip":
        skipped(process, state, at)
    elif kind == "finish":
        left = [s["name"] for s in state["steps"][state["next"] :]]
        if left:
            raise Refused(f"{', '.join(left)} not done; skip what is left, or abandon the run")
    if kind in ("full", "drain", "empty"):
        field = {"full": "full_at", "drain": "drained_at", "empty": "emptied_at"}[kind]
        state["steps"][index][field] = at
    if kind == "empty":
        state["step"] = None
    if kind in ("finish", "abandon"):
        state["finished_at"] = at
        state["held_since"] = None
    state["phase"] = TRANSITIONS[phase, kind]


def expected(phase: str) -> str:
    kinds = [kind for at, kind in TRANSITIONS if at == phase]
    return f"; expected {', '.join(kinds)}" if kinds else "; it is closed"


def poured(process: Process, state: State, event: Event) -> int:
    """A pour starts: the step it opens."""
    index: int = state["next"]
    if index >= len(process.steps):
        raise Refused("every bath is done; what is left is to finish")
    wanted = event.get("step")
    if wanted is not None and wanted != index:
        raise Refused(f"the next bath is step {index} ({process.steps[index].name}); found step {wanted}")
    state["steps"][index]["filled_at"] = event["happened_at"]
    state["step"], state["next"] = index, index + 1
    state["held_since"] = None
    state["last_turn_at"] = None
    return index


def skipped(process: Process, state: State, at: float) -> None:
    index = state["next"]
    if index >= len(process.steps):
        raise Refused("no bath is left to skip")
    state["steps"][index]["skipped"] = True
    state["next"] = index + 1
    state["deviations"].append({"at": at, "what": "step skipped", "step": index, "say": ""})


def beside(state: State, event: Event) -> None:
    """What leaves the phase alone."""
    kind, at = event["kind"], event["happened_at"]
    if state["phase"] in CLOSED and kind not in AFTERWARDS:
        raise Refused(f"the run is {state['phase']}; {kind} belongs to an open run")
    if kind == "preflight":
        state["preflight"][event["item"]] = event.get("done", True)
    elif kind == "temperature":
        state["temperatures"].append({"at": at, "celsius": event["celsius"], "of": event.get("of", "tank")})
    elif kind == "agitate":
        if state["step"] is None:
            raise Refused("no bath is in the tank: there is nothing to agitate")
        state["steps"][state["step"]]["turns"] += 1
        state["last_turn_at"] = at
    elif kind == "deviation":
        state["deviations"].append(
            {
                "at": at,
                "what": event["what"],
                "step": state["step"],
                "say": event.get("say") or event.get("note", ""),
            }
        )
    elif kind == "hold":
        if state["held_since"] is not None:
            raise Refused("the run is held already")
        state["held_since"] = at
    elif kind == "resume":
        if state["held_since"] is None:
            raise Refused("the run is not held")
        state["held_since"] = None
    elif kind == "dry":
        if state["phase"] not in CLOSED:
            raise Refused("the film is dry only after the run: finish it first")
        state["dry_at"] = at
    else:
        # a line noted by hand calls it text
        state["notes"].append({"at": at, "say": event.get("say") or event.get("text", "")})


def middle_of_fill(row: State) -> float:
    """The instant from which the film counts as in the bath."""
    full = row["full_at"] if row["full_at"] is not None else row["filled_at"]
    return float((row["filled_at"] + full) / 2)


def drain_seconds(state: State) -> float:
    """How long a drain takes in this tank: the last one seen, or the usual."""
    for row in reversed(state["steps"]):
        if row["emptied_at"] is not None and row["drained_at"] is not None:
            return float(row["emptied_at"] - row["drained_at"])
    return DRAIN_SECONDS


def tank_readings(process: Process, state: State, row: State) -> list[tuple[float, float]]:
    """(s, °C) read in the tank during one step, corrected by the thermometer's comparison."""
    first = row["filled_at"]
    last = row["emptied_at"] if row["emptied_at"] is not None else float("inf")
    return [
        (entry["at"], entry["celsius"] + process.correction_c)
        for entry in state["temperatures"]
        if entry["of"] == "tank" and first <= entry["at"] <= last
    ]


def wanted_film_time(
    process: Process, step: Step, state: State, row: State, q10: float | None = None
) -> tuple[float, bool]:
    """(film time in s the step wants, whether the limit of mending by time was met), for the process's Q10 or another."""
    readings = tank_readings(process, state, row)
    if step.kind != "aim" or step.role != "developer" or not readings:
        return step.seconds, False
    return time_needed(readings, middle_of_fill(row), step.seconds, step.aim_c, q10 or process.q10)


def mended_spread(process: Process, step: Step, state: State, row: State) -> float:
    """s of spread of the wanted film time by the spread of Q10; 0 where nothing is mended."""
    ends = [
        wanted_film_time(process, step, state, row, process.q10 + sign * process.q10_spread)[0]
        for sign in (-1, 1)
    ]
    return abs(ends[1] - ends[0]) / 2


def film_time(row: State) -> float | None:
    """Film time of a step that is over: mid-drain − mid-fill."""
    if row["drained_at"] is None:
        return None
    empty = row["emptied_at"] if row["emptied_at"] is not None else row["drained_at"]
    return float((row["drained_at"] + empty) / 2 - middle_of_fill(row))


def clock(process: Process, state: State, now: float) -> State | None:
    """The count-down of the bath in the tank, or None while none is."""
    index = state["step"]
    if index is None:
        return None
    step, row = process.steps[index], state["steps"][index]
    begin = middle_of_fill(row)
    wanted, limit = wanted_film_time(process, step, state, row)
    drain_at = begin + wanted - drain_seconds(state) / 2
    return {
        "begin": begin,
        "drain_at": drain_at,
        "wanted_s": wanted,
        "mended_s": wanted - step.seconds,
        "mended_spread_s": mended_spread(process, step, state, row),
        "limit_met": limit,
        "left_s": drain_at - now,
        "turn_now": turning(step, now - begin) and state["phase"] == "in the bath" and now < drain_at,
        "over_safe": now > drain_at + step.safe_hold_s + drain_seconds(state),
    }


def turning(step: Step, elapsed: float) -> bool:
    """Whether the tank should be turning so long after the middle of the fill."""
    agitation = step.agitation
    if elapsed < 0:
        return False
    if elapsed < agitation.first_s:
        return True
    return agitation.every_s > 0 and elapsed % agitation.every_s < agitation.for_s


def act(process: Process, state: State) -> State:
    """The next act, named in full, and the event it sends."""
    phase, index = state["phase"], state["next"]
    if phase in CLOSED:
        return {"kind": None, "say": "Finished" if phase == "finished" else "Abandoned"}
    if phase == "filling":
        return {"kind": "full", "say": f"{process.steps[state['step']].name} is all in"}
    if phase == "in the bath":
        return {"kind": "drain", "say": f"Drain {process.steps[state['step']].name}"}
    if phase == "draining":
        return {"kind": "empty", "say": "Tank is empty"}
    if index < len(process.steps):
        return {"kind": "fill", "say": f"Pour {process.steps[index].name}"}
    return {"kind": "finish", "say": "Finish the run"}


def state(process: Process, events: list[Event], now: float) -> State:
    """Everything a face shows at `now`: phase, steps with their film times, the clock, the next act."""
    folded_state = folded(process, events)
    for step, row in zip(process.steps, folded_state["steps"]):
        row["film_s"] = film_time(row) if row["filled_at"] is not None else None
        row["worth_s"] = worth(process, step, folded_state, row)
    folded_state["clock"] = clock(process, folded_state, now)
    folded_state["act"] = act(process, folded_state)
    return folded_state


def worth(process: Process, step: Step, state: State, row: State) -> float | None:
    """Seconds at the aim a finished developer step was worth; None where no temperature was read."""
    time = row["film_s"]
    readings = tank_readings(process, state, row) if time is not None else []
    if time is None or step.role != "developer" or not readings:
        return None
    begin = middle_of_fill(row)
    return equivalent_time(readings, begin, begin + time, step.aim_c, process.q10)


def admitted(process: Process, events: list[Event], event: Event, now: float) -> None:
    """Whether an event may join those there are; raises `Refused` with the reason."""
    ahead = event["happened_at"] - now
    if ahead > FUTURE_ALLOWANCE:
        raise Refused(f"it is from the future by {ahead:.0f} s; check the clock of the device that sent it")
    if event["kind"] == STRIKE:
        may_be_struck(process, events, event)
    folded(process, [*events, event])


def may_be_struck(process: Process, events: list[Event], event: Event) -> None:
    """Whether a tap may be taken back: it is there, and nothing that was noted after it rests on it."""
    named = next((one for one in events if one["id"] == event["strikes"]), None)
    if named is None or named["kind"] == STRIKE:
        raise Refused(f"there is no tap {event['strikes']!r} in this run to strike through")
    try:
        folded(process, [*events, event])
    except Refused as no:
        raise Refused(f"something noted after it rests on it, strike that first: {no}") from None
