"""Runs of the bench: start one, read one, add to one. State is read off the lines, never stored."""

from __future__ import annotations

import threading
import time
import uuid
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wetside.app.processing.run_start import checked_start
from wetside.app.processing.warmth import thermometer_correction
from wetside.book.kinds import Correction, RunEvent
from wetside.book.line import Line, Thing
from wetside.book.text import line_of
from wetside.figures.figure import Figure
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.processes import Process, built_in, process_from_steps
from wetside.laws.chemistry.push import pushed
from wetside.laws.thermal.thermometer import BROKEN
from wetside.stages.bench.afterwards import afterwards
from wetside.stages.bench.event import checked_event
from wetside.stages.bench.likeness import as_it_was
from wetside.stages.bench.run import CLOSED, STRIKE, Refused, admitted, folded
from wetside.stages.bench.run import state as state_at
from wetside.store import clock
from wetside.store.ledger import Ledger

#: Between reading the state and noting the event nobody else of this process may note.
one_at_a_time = threading.Lock()
DAY = 86_400.0
#: What a run that follows another takes over from it.
REPEATED = ("process", "tank", "thermometer", "rolls", "baths", "push_stops", "developer_s")
NOTED = "noted, not timed here"
UNTOUCHED = "abandoned before the first pour"


@dataclass(frozen=True, slots=True)
class Kept:
    """One run as the book holds it."""

    id: str
    line: str
    process: Process
    started_at: float
    start: dict[str, Any]
    events: list[dict[str, Any]]
    correction: Figure | None = None


def start_run(home: Path, body: dict[str, Any], now: float | None = None) -> dict[str, Any]:
    """Begin a run; `Unusable` when the body cannot be read. A repeat with the same id is the same run."""
    now = time.time() if now is None else now
    with one_at_a_time, Ledger.open(home) as ledger:
        there = {str(line.body["run"]) for line in ledger.lines(kind="run", include_struck=True)}
        started, defined = checked_start(body, there)
        if started.run in there:
            return shown(kept(ledger, started.run), now)
        lines = [defined, started] if defined else [started]
        for line in lines:
            ledger.append(line, happened_at=now)
        return shown(kept(ledger, started.run), now)


def kept(ledger: Ledger, run: str) -> Kept | None:
    """The run and its events, in the order of noting; None where there is none."""
    lines, struck = ledger.lines(thing=Thing("run", run), include_struck=True), ledger.struck()
    told = [event_of(line) for line in lines if line.kind == "run event"]
    untouched = any(event["kind"] == "abandon" for event in told)
    start = next(
        (line for line in lines if line.kind == "run" and (line.id not in struck or untouched)), None
    )
    if start is None:
        return None
    taken_back = {event.get("strikes") for event in told if event["kind"] == STRIKE}
    events = [event for event in told if event["id"] not in struck or event["id"] in taken_back]
    name = start.body.get("thermometer")
    found = thermometer_correction(ledger, str(name) if name else None, start.happened_at)
    process = aimed(process_of(ledger, str(start.body["process"])), start.body)
    if found is not None and abs(found.value) <= BROKEN:
        process = replace(process, correction_c=found.value)
    return Kept(run, start.id, process, start.happened_at, start.body, events, found)


def aimed(process: Process, start: dict[str, Any]) -> Process:
    """The process with the developer's time of this run."""
    own = start.get("developer_s")
    try:
        return pushed(process, int(start.get("push_stops") or 0), None if own is None else float(own))
    except Unusable:  # a book of another version knew a push that this one does not
        return process


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
        "q10_spread": run.process.q10_spread,
        "correction_c": run.process.correction_c,
        "thermometer": thermometer_words(run),
        "passed_over": [item for item, done in state["preflight"].items() if not done],
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
        say = f"{name} is corrected by {found.value:+.1f} ± {found.spread:.1f} °C in every reading of this run.".replace(
            "-", "−"
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


def runs(home: Path, most: int | None = None) -> tuple[list[dict[str, Any]], int]:
    """The latest runs (`most`, or all), the latest first: id, process, when it began, its phase; and how many there are."""
    with Ledger.open(home) as ledger:
        lines = sorted(ledger.lines(kind="run"), key=lambda line: -line.happened_at)
        found = [kept(ledger, str(line.body["run"])) for line in lines[:most]]
    return [row_of(entry) for entry in found if entry], len(lines)


def in_words(phase: str, started_at: float) -> str:
    """A run's phase in a list or a record: one that was written down without a pour was noted, not timed here."""
    return NOTED if phase == "ready" and clock.wall() - started_at > DAY else phase


def followed(home: Path, run_id: str) -> dict[str, Any] | None:
    """The run that a run follows, and what each of its steps had there, in words; None where it follows none of the book."""
    with Ledger.open(home) as ledger:
        own = kept(ledger, run_id)
        like = str(own.start.get("like") or "") if own else ""
        good = kept(ledger, like) if like else None
    if own is None or good is None:
        return None
    was = state_at(good.process, accepted(good.process, good.events), clock.wall())
    return {"run": good.id, "steps": as_it_was(good.process, was, own.process.steps)}


def row_of(entry: Kept) -> dict[str, Any]:
    """A run in a list."""
    phase = folded(entry.process, accepted(entry.process, entry.events))["phase"]
    return {
        "id": entry.id,
        "process": entry.process.name,
        "started_at": entry.started_at,
        "rolls": [str(roll.get("roll", "")) for roll in entry.start.get("rolls") or ()],
        "phase": in_words(phase, entry.started_at),
        "start": {key: entry.start.get(key) for key in REPEATED},
    }


def lines_for(
    run_id: str, event: dict[str, Any], fields: dict[str, Any], also: list[Correction]
) -> list[Line]:
    """The event's line; a strike also corrects the line it names, so that every reader passes over it."""
    at, noted = event["happened_at"], clock.wall()
    body = RunEvent(run=run_id, event=event["kind"], fields=fields)
    lines = [line_of(body, name=event["id"], happened_at=at, noted_at=noted)]
    if event["kind"] == STRIKE:
        also = [Correction(strikes=event["strikes"], reason="mis-tap"), *also]
    return lines + [line_of(mend, name=uuid.uuid4().hex, happened_at=at, noted_at=noted) for mend in also]


def also_struck(ledger: Ledger, run: Kept, event: dict[str, Any]) -> list[Correction]:
    """A run abandoned before the first pour did nothing to film or bath: its line is struck, until that is taken back."""
    if event["kind"] == "abandon" and not any(one["kind"] == "fill" for one in run.events):
        return [Correction(strikes=run.line, reason=UNTOUCHED)]
    target = next((one for one in run.events if one["id"] == event.get("strikes")), None)
    if event["kind"] != STRIKE or target is None or target["kind"] != "abandon":
        return []
    return [
        Correction(strikes=line.id, reason="the run goes on")
        for line in ledger.lines(kind="correction")
        if line.body.get("strikes") == run.line and line.body.get("reason") == UNTOUCHED
    ]


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
        try:
            ledger.append_lines(lines_for(run_id, event, fields, also_struck(ledger, found, event)))
        except Unusable as slip:
            # a full disk is no refusal: the tap must stay in the outbox and come again
            return (409 if slip.where == "line" else 503), slip.as_json()
        return 201, shown(kept(ledger, run_id), now)
