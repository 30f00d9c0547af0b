"""Runs of the bench: start one, read one, add to one. State is read off the lines, never stored."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wetside.app.warmth import thermometer_correction
from wetside.book.kinds import ProcessDefined, RunEvent, RunStarted
from wetside.book.line import Line, Thing
from wetside.figures.figure import Figure
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.processes import Process, built_in, process_from_steps, process_named
from wetside.laws.thermal.thermometer import BROKEN
from wetside.stages.bench.afterwards import afterwards
from wetside.stages.bench.event import checked_event, checked_id
from wetside.stages.bench.run import CLOSED, Refused, admitted, folded
from wetside.stages.bench.run import state as state_at
from wetside.store.ledger import Ledger

#: Between reading the state and noting the event nobody else of this process may note.
one_at_a_time = threading.Lock()

RUN_FIELDS = ("id", "process", "steps", "tank", "thermometer", "rolls", "baths", "room_c", "note")


@dataclass(frozen=True, slots=True)
class Kept:
    """One run as the book holds it."""

    id: str
    process: Process
    started_at: float
    start: dict[str, Any]
    events: list[dict[str, Any]]
    correction: Figure | None = None


def start_run(home: Path, body: dict[str, Any], now: float | None = None) -> dict[str, Any]:
    """Begin a run; `Unusable` when the body cannot be read. A repeat with the same id is the same run."""
    now = time.time() if now is None else now
    started, defined = checked_start(body)
    with one_at_a_time, Ledger.open(home) as ledger:
        if started.run in {
            line.body["run"] for line in ledger.lines(thing=Thing("run", started.run), kind="run")
        }:
            return shown(kept(ledger, started.run), now)
        lines = [defined, started] if defined else [started]
        for line in lines:
            ledger.append(line, happened_at=now)
        return shown(kept(ledger, started.run), now)


def checked_start(body: Any) -> tuple[RunStarted, ProcessDefined | None]:
    """The line that starts a run, and the line that defines its process where the body brings steps."""
    if not isinstance(body, dict):
        raise Unusable(f"a run is an object; found {type(body).__name__}", "run")
    unknown = set(body) - set(RUN_FIELDS)
    if unknown:
        raise Unusable(f"unknown {', '.join(sorted(unknown))}; known: {', '.join(RUN_FIELDS)}", "run")
    run = checked_id(body["id"]) if body.get("id") is not None else fresh_id()
    name = body.get("process")
    if not isinstance(name, str) or not 0 < len(name.strip()) <= 60:
        raise Unusable(f"process is a name, one of {', '.join(built_in())}; found {name!r}", "process")
    defined = None
    if body.get("steps") is not None:
        if not isinstance(body["steps"], list):
            raise Unusable("steps is a list", "steps")
        name = f"{name.strip()} of {run}"
        process = process_from_steps(name, body["steps"])
        defined = ProcessDefined(process=name, steps=tuple(step.as_json() for step in process.steps))
    else:
        name = process_named(name).name
    return RunStarted(run=run, process=name, **start_fields(body)), defined


def start_fields(body: dict[str, Any]) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for key in ("tank", "thermometer", "note"):
        value = body.get(key)
        if value is not None:
            if not isinstance(value, str) or len(value) > 500:
                raise Unusable(f"{key} is text", key)
            fields[key] = value
    room = body.get("room_c")
    if room is not None:
        if isinstance(room, bool) or not isinstance(room, int | float) or not -20 <= room <= 60:
            raise Unusable(f"room_c is from -20 to 60; found {room!r}", "room_c")
        fields["room_c"] = float(room)
    rolls, baths = body.get("rolls"), body.get("baths")
    if rolls is not None:
        if not isinstance(rolls, list) or not all(text_map(entry) for entry in rolls):
            raise Unusable('rolls is a list of {"roll", "reel", "core"}', "rolls")
        fields["rolls"] = tuple(rolls)
    if baths is not None:
        if not text_map(baths):
            raise Unusable("baths names the bath of each role", "baths")
        fields["baths"] = baths
    return fields


def text_map(value: Any) -> bool:
    return isinstance(value, dict) and all(isinstance(v, str) and len(v) <= 200 for v in value.values())


def fresh_id() -> str:
    import secrets

    return f"{time.strftime('%Y%m%d-%H%M')}-{secrets.token_hex(3)}"


def kept(ledger: Ledger, run: str) -> Kept | None:
    """The run and its events, in the order of noting; None where there is none."""
    lines = ledger.lines(thing=Thing("run", run))
    start = next((line for line in lines if line.kind == "run"), None)
    if start is None:
        return None
    events = [event_of(line) for line in lines if line.kind == "run event"]
    name = start.body.get("thermometer")
    found = thermometer_correction(ledger, str(name) if name else None, start.happened_at)
    process = process_of(ledger, str(start.body["process"]))
    if found is not None and abs(found.value) <= BROKEN:
        process = replace(process, correction_c=found.value)
    return Kept(run, process, start.happened_at, start.body, events, found)


def event_of(line: Line) -> dict[str, Any]:
    fields = line.body.get("fields") or {}
    assert isinstance(fields, dict)
    return {"id": line.id, "kind": line.body["event"], "happened_at": line.happened_at, **fields}


def process_of(ledger: Ledger, name: str) -> Process:
    if name in built_in():
        return built_in()[name]
    lines = ledger.lines(thing=Thing("process", name), kind="process")
    if not lines:
        raise Unusable(f"the book holds no process {name!r}", "process")
    steps = lines[-1].body["steps"]
    assert isinstance(steps, list | tuple)
    return process_from_steps(name, list(steps))


def shown(run: Kept | None, now: float) -> dict[str, Any]:
    """What a face gets: the contract's keys, the steps of the process, and the server's time."""
    assert run is not None
    readable = accepted(run.process, run.events)
    state = state_at(run.process, readable, now)
    answer = {
        "id": run.id,
        "process": run.process.name,
        "started_at": run.started_at,
        "start": run.start,
        "steps": [step.as_json() for step in run.process.steps],
        "q10": run.process.q10,
        "correction_c": run.process.correction_c,
        "thermometer": thermometer_words(run),
        "state": state,
        "events": run.events,
        "now": now,
    }
    answer["afterwards"] = afterwards(run.process, state) if state["phase"] in CLOSED else None
    return answer


def thermometer_words(run: Kept) -> dict[str, Any]:
    """Which thermometer, its correction, and what of it is applied."""
    name, found = run.start.get("thermometer"), run.correction
    if not name:
        say = "No thermometer was named: readings are taken as they are."
    elif found is None:
        say = f"{name} was never compared with another one: readings are taken as they are."
    elif abs(found.value) > BROKEN:
        say = f"{name} is off by {found.value:+.1f} °C: that is broken, not corrected. Take another one."
    else:
        say = (
            f"{name} is corrected by {found.value:+.1f} ± {found.spread:.1f} °C in every reading of this run."
        )
    return {"name": name, "correction": found.as_json() if found else None, "say": say}


def accepted(process: Process, events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The events that fold; one that was noted elsewhere (a book brought in) and cannot follow is passed over."""
    try:
        folded(process, events)
        return events
    except (Refused, KeyError):
        good: list[dict[str, Any]] = []
        for event in sorted(events, key=lambda entry: entry["happened_at"]):
            try:
                folded(process, [*good, event])
            except (Refused, KeyError):
                continue
            good.append(event)
        return good


def run(home: Path, run_id: str, now: float | None = None) -> dict[str, Any] | None:
    """The run at `now`, or None where the book has none of that id."""
    with Ledger.open(home) as ledger:
        found = kept(ledger, run_id)
    return None if found is None else shown(found, time.time() if now is None else now)


def runs(home: Path) -> list[dict[str, Any]]:
    """Every run, the latest first: id, process, when it began, and its phase."""
    with Ledger.open(home) as ledger:
        found = [kept(ledger, str(line.body["run"])) for line in ledger.lines(kind="run")]
        rows = [
            {
                "id": entry.id,
                "process": entry.process.name,
                "started_at": entry.started_at,
                "phase": folded(entry.process, accepted(entry.process, entry.events))["phase"],
            }
            for entry in found
            if entry
        ]
    return sorted(rows, key=lambda row: -float(str(row["started_at"])))


def add_event(home: Path, run_id: str, given: Any, now: float | None = None) -> tuple[int, dict[str, Any]]:
    """Note an event. 201 once durable, 200 for a repeat, 404 no such run, 409 refused, 422 malformed."""
    now = time.time() if now is None else now
    try:
        event = checked_event(given)
    except Unusable as slip:
        return 422, slip.as_json()
    with one_at_a_time, Ledger.open(home) as ledger:
        found = kept(ledger, run_id)
        if found is None:
            return 404, Unusable(f"no run {run_id!r}", "run").as_json()
        known = next((entry for entry in found.events if entry["id"] == event["id"]), None)
        if known is not None:
            if known == event:
                return 200, shown(found, now)
            return 409, Unusable("this id already names another event of the run", "id").as_json()
        try:
            admitted(found.process, accepted(found.process, found.events), event, now)
        except Refused as no:
            return 409, Unusable(str(no), "event").as_json()
        fields = {key: value for key, value in event.items() if key not in ("id", "kind", "happened_at")}
        body = RunEvent(run=run_id, event=event["kind"], fields=fields)
        try:
            ledger.append(body, happened_at=event["happened_at"], id=event["id"])
        except Unusable as slip:
            # a full disk is no refusal: the tap must stay in the outbox and come again
            return (409 if slip.where == "line" else 503), slip.as_json()
        return 201, shown(kept(ledger, run_id), now)
