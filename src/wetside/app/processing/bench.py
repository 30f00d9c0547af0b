"""What the Bench page needs in one go: the runs, the processes, advice, and labels to print."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wetside.app.processing.bottles import bottles, code
from wetside.app.processing.runs import followed, in_words, run, runs
from wetside.app.shelf import shelf
from wetside.laws.chemistry.processes import Process, built_in
from wetside.stages.bench.preflight import PREFLIGHT
from wetside.stages.bench.rescue import troubles_as_json

#: Runs that the page lists unless all are asked for.
LATEST = 12


def overview(home: Path, most: int | None = LATEST) -> dict[str, Any]:
    """Runs, the latest first, and what a run may be started with: processes, film, gear and bottles of the book."""
    there, (latest, count) = shelf(home), runs(home, most)
    waiting = [roll for roll in there["rolls"] if roll["status"] in ("loaded", "exposed")]
    return {
        "runs": latest,
        "runs_in_all": count,
        "processes": [process_choice(p) for p in built_in().values()],
        "rolls": sorted(waiting, key=lambda roll: roll["status"]),
        "gear": {
            kind: [thing["name"] for thing in there["gear"] if thing["kind"] == kind]
            for kind in ("tank", "reel", "thermometer")
        },
        "bottles": by_role(bottles(home)),
    }


def process_choice(process: Process) -> dict[str, Any]:
    """A process as a form offers it: what can be pushed, which baths it wants from bottles."""
    roles = [step.role for step in process.steps if step.role not in ("wash", "rinse")]
    return {
        "name": process.name,
        "title": process.title,
        "roles": list(dict.fromkeys(roles)),
        "push": sorted({row.stops for row in process.push}),
    }


def by_role(found: list[dict[str, Any]]) -> dict[str, list[dict[str, Any]]]:
    """Bottles by the bath they hold, in the order of the built-in processes."""
    order = dict.fromkeys(step.role for process in built_in().values() for step in process.steps)
    held = {role: [one for one in found if one["role"] == role] for role in order}
    return {role: ones for role, ones in held.items() if ones}


def sink(home: Path, run_id: str) -> dict[str, Any] | None:
    """One run with all that its page must know when the link is gone."""
    found = run(home, run_id)
    if found is None:
        return None
    phase = in_words(found["state"]["phase"], found["started_at"])
    return {
        "run": found,
        "phase": phase,
        "like": followed(home, run_id),
        "preflight": [list(item) for item in PREFLIGHT],
        "troubles": troubles_as_json(),
    }


def baths_of(home: Path, run_id: str) -> list[dict[str, Any]] | None:
    """What the bottles of a run have done, this run included, and can still do; None where there is no such run."""
    found = run(home, run_id)
    if found is None:
        return None
    named = set((found["start"].get("baths") or {}).values())
    return [bath for bath in bottles(home) if bath["bath"] in named]


def labels(shown: dict[str, Any]) -> list[dict[str, str]]:
    """A label a bath: name, process, and a code (SVG) that says the same to a camera."""
    names = dict.fromkeys(step["name"] for step in shown["steps"] if step["role"] not in ("wash", "rinse"))
    rows = []
    for name in names:
        said = f"{shown['process']} / {name} / run {shown['id']}"
        rows.append({"name": name, "say": said, "code": code(said)})
    return rows
