"""What starts a run: the body that a form or a script sends, judged field by field before anything is written."""

from __future__ import annotations

import math
import time
from collections.abc import Container
from itertools import count
from typing import Any

from wetside.book.kinds import ProcessDefined, RunStarted
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.processes import Process, built_in, process_from_steps, process_named
from wetside.laws.chemistry.push import pushed
from wetside.stages.bench.event import checked_id

RUN_FIELDS = (
    "id", "process", "steps", "tank", "thermometer", "rolls", "baths", "room_c", "push_stops", "developer_s", "like", "note",
)  # fmt: skip
#: How a roll lies: which end is at the core, which edge the pour meets first.
CORES, EDGES = ("", "head", "tail"), ("", "perforated", "opposite")
ROLL_FIELDS = ("roll", "reel", "core", "edge")


def checked_start(body: Any, there: Container[str] = ()) -> tuple[RunStarted, ProcessDefined | None]:
    """The line that starts a run, and the line that defines its process where the body brings steps.

    A run without an id of its own is named by its day, apart from the runs that are `there`.
    """
    if not isinstance(body, dict):
        raise Unusable(f"a run is an object; found {type(body).__name__}", "run")
    unknown = set(body) - set(RUN_FIELDS)
    if unknown:
        raise Unusable(f"unknown {', '.join(sorted(unknown))}; known: {', '.join(RUN_FIELDS)}", "run")
    run = checked_id(body["id"]) if body.get("id") is not None else of_the_day(there)
    process, defined = checked_process(body, run)
    fields = start_fields(body)
    pushed(process, fields.get("push_stops", 0), fields.get("developer_s"))
    return RunStarted(run=run, process=process.name, **fields), defined


def checked_process(body: dict[str, Any], run: str) -> tuple[Process, ProcessDefined | None]:
    name = body.get("process")
    if not isinstance(name, str) or not 0 < len(name.strip()) <= 60:
        raise Unusable(f"process is a name, one of {', '.join(built_in())}; found {name!r}", "process")
    if body.get("steps") is None:
        return process_named(name), None
    if not isinstance(body["steps"], list):
        raise Unusable("steps is a list", "steps")
    process = process_from_steps(f"{name.strip()} of {run}", body["steps"])
    return process, ProcessDefined(
        process=process.name, steps=tuple(step.as_json() for step in process.steps)
    )


def start_fields(body: dict[str, Any]) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for key in ("tank", "thermometer", "like", "note"):
        value = body.get(key)
        if value is not None:
            if not isinstance(value, str) or len(value) > 500:
                raise Unusable(f"{key} is text", key)
            fields[key] = value
    for key, low, high in (("room_c", -20, 60), ("developer_s", 10, 7200), ("push_stops", -3, 4)):
        if body.get(key) is not None:
            fields[key] = bounded(key, body[key], low, high)
    if "push_stops" in fields:
        fields["push_stops"] = int(fields["push_stops"])
    if body.get("rolls") is not None:
        fields["rolls"] = checked_rolls(body["rolls"])
    if body.get("baths") is not None:
        if not text_map(body["baths"]):
            raise Unusable("baths names the bath of each role", "baths")
        fields["baths"] = body["baths"]
    return fields


def bounded(key: str, value: Any, low: float, high: float) -> float:
    whole = key != "push_stops" or (isinstance(value, int | float) and value == int(value))
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or not whole:
        raise Unusable(f"{key} is from {low} to {high}; found {value!r}", key)
    if not low <= value <= high:
        raise Unusable(f"{key} is from {low} to {high}; found {value:g}", key)
    return float(value)


def checked_rolls(rolls: Any) -> tuple[dict[str, str], ...]:
    """Which roll is on which reel, which end is at the core, which edge lies lower."""
    if not isinstance(rolls, list) or not all(text_map(entry) for entry in rolls):
        raise Unusable('rolls is a list of {"roll", "reel", "core", "edge"}', "rolls")
    for entry in rolls:
        if not entry.get("roll") or set(entry) - set(ROLL_FIELDS):
            raise Unusable(f"a roll has a name and {', '.join(ROLL_FIELDS[1:])}; found {entry}", "rolls")
        if entry.get("core", "") not in CORES:
            raise Unusable(f"core is head, tail or empty; found {entry['core']!r}", "rolls")
        if entry.get("edge", "") not in EDGES:
            raise Unusable(f"edge is perforated, opposite or empty; found {entry['edge']!r}", "rolls")
    names = [entry["roll"] for entry in rolls]
    if len(set(names)) != len(names):
        raise Unusable("a roll stands twice in this run", "rolls")
    return tuple(rolls)


def text_map(value: Any) -> bool:
    return isinstance(value, dict) and all(isinstance(v, str) and len(v) <= 200 for v in value.values())


def of_the_day(there: Container[str]) -> str:
    """A name for a run that begins today, as run-2026-05-03, or run-2026-05-03-2 for the second."""
    today = f"run-{time.strftime('%Y-%m-%d')}"
    return next(name for n in count(1) if (name := today if n == 1 else f"{today}-{n}") not in there)
