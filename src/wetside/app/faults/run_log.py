"""What a run that was tapped at the sink tells the search for causes: figures of its state, each with its line.

A run whose pours were never tapped tells nothing here; its free notes are read where the causes are.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from wetside.app.processing.runs import accepted, aimed, event_of
from wetside.app.processing.warmth import comparison
from wetside.book.line import Line
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.processes import Process, built_in, process_from_steps
from wetside.laws.thermal.thermometer import BROKEN, correction
from wetside.stages.bench.deeds import deeds
from wetside.stages.bench.run import state


def log_of_taps(lines: list[Line], run: Line) -> tuple[dict[str, Any], dict[str, str]]:
    """(figures, the line each rests on) of a tapped run; empty where no pour was tapped. `lines` are those that stand."""
    name = run.body["run"]
    own = [line for line in lines if line.kind == "run event" and line.body.get("run") == name]
    process = process_from_lines(lines, run)
    if process is None or not any(line.body.get("event") == "fill" for line in own):
        return {}, {}
    events = accepted(process, [event_of(line) for line in own])
    at = max(event["happened_at"] for event in events)
    found = deeds(process, state(process, events, at))
    if run.body.get("push_stops"):
        found["pushed"] = (float(str(run.body["push_stops"])) > 0, None)
    figures = {key: value for key, (value, _) in found.items()}
    return figures, {key: line_at(own, when) or run.id for key, (_, when) in found.items()}


def line_at(own: list[Line], when: float | None) -> str | None:
    """The line that was noted of that instant."""
    return next((line.id for line in own if when is not None and line.happened_at == when), None)


def process_from_lines(lines: list[Line], run: Line) -> Process | None:
    """The run's process with its developer's time and its thermometer's correction; None where it cannot be had."""
    name, probe = str(run.body.get("process")), run.body.get("thermometer")
    process = built_in().get(name) or own_process(lines, name)
    if process is None:
        return None
    checks = [line for line in lines if line.kind == "thermometer" and line.body.get("thermometer") == probe]
    found = correction([one for line in checks if (one := comparison(line, run.happened_at))])
    process = aimed(process, dict(run.body))
    return (
        process if found is None or abs(found.value) > BROKEN else replace(process, correction_c=found.value)
    )


def own_process(lines: list[Line], name: str) -> Process | None:
    last = [line for line in lines if line.kind == "process" and line.body.get("process") == name][-1:]
    steps = last[0].body["steps"] if last else None
    try:
        return process_from_steps(name, list(steps)) if isinstance(steps, list | tuple) else None
    except Unusable:
        return None
