"""Which question: what of this run is worth redoing before the film dries, and what one thing to change next time."""

from __future__ import annotations

from typing import Any

from wetside.laws.chemistry.processes import Process
from wetside.laws.thermal.rate import TIME_LIMIT
from wetside.stages.bench.rescue import rescue
from wetside.stages.bench.run import State, tank_readings


def afterwards(process: Process, state: State) -> dict[str, Any]:
    """Deviations with their advice, what may be redone, the one change, and the time from dry to dry."""
    deviations = [
        {**entry, **advice(process, entry), "bath": bath_name(process, entry)}
        for entry in state["deviations"]
    ]
    return {
        "deviations": deviations,
        "redo": redo(process, state),
        "lasting": lasting(process, state),
        "change": one_change(process, state),
        "wet_s": since_first_pour(state, state["finished_at"]),
        "dry_to_dry_s": since_first_pour(state, state["dry_at"]),
    }


def advice(process: Process, entry: dict[str, Any]) -> dict[str, str]:
    found = rescue(entry["what"], role(process, entry))
    return {"now": found.now, "cost": found.cost, "curable": found.curable, "source": found.source}


def role(process: Process, entry: dict[str, Any]) -> str | None:
    return None if entry["step"] is None else process.steps[entry["step"]].role


def bath_name(process: Process, entry: dict[str, Any]) -> str | None:
    return None if entry["step"] is None else process.steps[entry["step"]].name


def redo(process: Process, state: State) -> list[str]:
    """Bleach and fixer can be done again, developer cannot (source tg2044-1)."""
    said = []
    for step, row in zip(process.steps, state["steps"]):
        if step.role not in ("bleach", "fixer"):
            continue
        short = row["film_s"] is not None and row["film_s"] < step.seconds - 5
        if row["skipped"]:
            said.append(f"{step.name} was skipped: do it and every bath after it before the film dries.")
        elif short:
            said.append(
                f"{step.name} had {row['film_s']:.0f} s of {step.seconds:.0f}: give it its time again."
            )
    return said


def one_change(process: Process, state: State) -> str:
    """The single most useful thing to do differently, the developer first: it cannot be redone."""
    if not any(row["filled_at"] for row in state["steps"]):
        return "Nothing was poured: the film is as it was, and no bath was used."
    for step, row in zip(process.steps, state["steps"]):
        if step.role != "developer" or row["film_s"] is None:
            continue
        had = f"{row['film_s']:.0f} s of {step.seconds:.0f}"
        if abs(row["film_s"] / step.seconds - 1) > TIME_LIMIT:
            return (
                f"Developer film time was {had}: nothing else weighs as much. Ready the stop bath, then pour."
            )
        readings = tank_readings(process, state, row)
        if not readings:
            return (
                "Read the developer in the tank at least twice: without it nothing can be said of this run."
            )
        mean = sum(celsius for _, celsius in readings) / len(readings)
        if not step.low_c <= mean <= step.high_c:
            off = step.aim_c - mean
            return (
                f"The developer ran at {mean:.1f} °C, aim {step.aim_c:.1f}: the tank must come "
                f"{'up' if off > 0 else 'down'} by {abs(off):.1f} °C; {'warm' if off > 0 else 'cool'} the presoak, "
                "not the bottle alone (Mix says how far)."
            )
        if abs(row["film_s"] - step.seconds) > 5:
            return f"Developer film time was {had}: have the stop bath open in reach."
    if state["deviations"]:
        return f"This time: {state['deviations'][0]['what']}. Ready that step before the first pour."
    return "Nothing: do the same again."


def lasting(process: Process, state: State) -> list[dict[str, str]]:
    """What of this run can be undone before the film dries, what later, and what never (source tg2044-1)."""
    said = [
        {"what": step.name, "say": "can be done again, tonight or later: retained silver, a pale cyan record and a "
         "milky film all go with a fresh bleach and fixer", "source": "tg2044-1"}
        for step, row in zip(process.steps, state["steps"]) if step.role == "bleach" and row["filled_at"] is not None
    ]  # fmt: skip
    for step, row in zip(process.steps, state["steps"]):
        if step.role == "developer" and row["film_s"] is not None:
            worth = row["worth_s"]
            off = "" if worth is None else f"; it was worth {worth:.0f} s of {step.seconds:.0f}"
            say = f"cannot be done again{off}: the mean density is mended in correction, the layers' balance in part"
            said.append({"what": step.name, "say": say, "source": "h-24-08"})
    return said


def since_first_pour(state: State, when: float | None) -> float | None:
    """Seconds from the first pour to a time; None where either is not known."""
    first = next((row["filled_at"] for row in state["steps"] if row["filled_at"] is not None), None)
    return None if first is None or when is None else float(when - first)
