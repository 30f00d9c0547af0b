"""Two runs or rolls of the book side by side: what was done, what it was done with, and what changed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wetside.app.faults.causes import log_of
from wetside.app.faults.told import Told, run_of, told_of_book
from wetside.book.line import Line
from wetside.stages.causes.ranking.compare import Fact, differences, in_words

BODY = {"room_c": "room_c", "process": "process", "tank": "tank", "thermometer": "thermometer"}
LOG = (
    "developer_age_days",
    "developer_area_m2_per_litre",
    "bleach_area_m2_per_litre",
    "fixer_area_m2_per_litre",
    "stop_bath_used",
    "film_age_years",
)
SLIPS = ("missed_agitation", "late_drain", "tank_fill_short")
YEAR = 365.25 * 86400


def compare(home: Path, first: str, second: str, told: Told | None = None) -> dict[str, Any]:
    """The `wetside.compare/1` object: differences ranked, what is alike, what one of them does not tell, one sentence."""
    lines, runs = told or told_of_book(home, first, second)
    found = differences(facts_of(lines, runs, first), facts_of(lines, runs, second))
    return {
        "schema": "wetside.compare/1",
        "first": first,
        "second": second,
        "say": in_words(found, first, second),
        **found,
    }


def facts_of(lines: list[Line], runs: dict[str, Line], name: str) -> dict[str, Fact]:
    """Everything the book tells of a run or a roll that could make it come out otherwise, with its lines."""
    facts: dict[str, Fact] = {}
    run = run_of(runs, name)
    if run is not None:
        body: dict[str, Any] = run.body
        for key, own in BODY.items():
            if body.get(own) is not None:
                facts[key] = Fact(body[own], run.id)
        for role, bath in dict(body.get("baths") or {}).items():
            facts[str(role)] = Fact(str(bath), run.id)
        log, where = log_of(lines, run)
        for key in LOG:
            facts[key] = Fact(log.get(key), where.get(key, run.id))
        for key in SLIPS:
            facts[key] = Fact(bool(log.get(key, False)), where.get(key, run.id))
        facts.update(_developed(lines, run))
        reels = [str(e.get("reel")) for e in body.get("rolls", ()) if e.get("roll") == name and e.get("reel")]
        if reels:
            facts["reel"] = Fact(reels[0], run.id)
    facts.update(_of_roll(lines, name, run))
    return facts


def _developed(lines: list[Line], run: Line) -> dict[str, Fact]:
    """The developer's last logged temperature."""
    found = {}
    for line in lines:
        fields: dict[str, Any] = line.body.get("fields") or {}  # type: ignore[assignment]
        if line.kind != "run event" or line.body.get("run") != run.body["run"]:
            continue
        if line.body.get("event") == "temperature" and fields.get("step", "developer") == "developer" and fields.get("celsius") is not None:  # fmt: skip
            found["developer_c"] = Fact(float(fields["celsius"]), line.id)
    return found


def _of_roll(lines: list[Line], name: str, run: Line | None) -> dict[str, Fact]:
    loaded = next((one for one in lines if one.kind == "roll" and one.body.get("roll") == name), None)
    if loaded is None:
        return {}
    found = {"stock": Fact(str(loaded.body["stock"]), loaded.id)}
    for line in lines:
        if line.kind in ("roll", "exposed", "scan") and line.body.get("roll") == name:
            for key in ("camera", "light", "scanner"):
                if line.body.get(key) and (key != "light" or line.kind == "scan"):
                    found[key] = Fact(str(line.body[key]), line.id)
    return found
