"""What the Bench page needs in one go: the runs, the processes, advice, and labels to print."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wetside.app.bottles import code
from wetside.app.runs import run, runs
from wetside.laws.chemistry.processes import built_in
from wetside.stages.bench.preflight import PREFLIGHT
from wetside.stages.bench.rescue import troubles_as_json


def overview(home: Path) -> dict[str, Any]:
    """Runs, the latest first, and the processes one may start."""
    return {
        "runs": runs(home),
        "processes": [{"name": p.name, "title": p.title} for p in built_in().values()],
    }


def sink(home: Path, run_id: str) -> dict[str, Any] | None:
    """One run with all that its page must know when the link is gone."""
    found = run(home, run_id)
    if found is None:
        return None
    return {"run": found, "preflight": [list(item) for item in PREFLIGHT], "troubles": troubles_as_json()}


def labels(shown: dict[str, Any]) -> list[dict[str, str]]:
    """A label a bath: name, process, and a code (SVG) that says the same to a camera."""
    names = dict.fromkeys(step["name"] for step in shown["steps"] if step["role"] not in ("wash", "rinse"))
    rows = []
    for name in names:
        said = f"{shown['process']} / {name} / run {shown['id']}"
        rows.append({"name": name, "say": said, "code": code(said)})
    return rows
