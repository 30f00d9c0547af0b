"""Earlier runs of the book that were measured by a strip, for what a user's own layers do when development moves."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from wetside.app.sensitometry.control import departures_of_runs
from wetside.book.line import Line

#: The latest runs that are asked: a book of many tapped runs must still open at once.
MOST = 12
#: Kinds of lines that a run's log is told by, beside its own events.
LOGGED = frozenset(("run", "roll", "bath", "process", "thermometer", "stock"))
LogOf = Callable[[list[Line], Line], tuple[dict[str, Any], dict[str, str]]]


def measured_runs(lines: Sequence[Line], runs: Mapping[str, Line], besides: Line | None) -> list[Line]:
    """The latest runs with a strip, of the same process as one run, which is left out itself."""
    with_strips = {str(line.body.get("run")) for line in lines if line.kind == "strip"}
    found = [
        run
        for name, run in runs.items()
        if name in with_strips
        and (besides is None or (run.id != besides.id and run.body["process"] == besides.body["process"]))
    ]
    return sorted(found, key=lambda run: run.happened_at)[-MOST:]


def own_runs(
    lines: list[Line], runs: Mapping[str, Line], besides: Line | None, log_of: LogOf
) -> list[dict[str, Any]]:
    """Departures and log of each of them, as evidence takes them."""
    told = measured_runs(lines, runs, besides)
    away = departures_of_runs(lines, [str(run.body["run"]) for run in told])
    events: dict[str, list[Line]] = {str(run.body["run"]): [] for run in told}
    others = list[Line]()
    for line in lines:
        if line.kind in LOGGED:
            others.append(line)
        elif line.kind == "run event":
            events.get(str(line.body.get("run")), []).append(line)
    return [
        {"departures": one, "log": log_of([*others, *events[str(run.body["run"])]], run)[0]}
        for one, run in zip(away, told)
    ]
