"""Causes of a run or a roll: evidence from a file or from the book's lines, ranked causes, the cheapest next test."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.app.control import departures_of_run
from wetside.app.run_log import log_of_taps
from wetside.book.life import standing
from wetside.book.line import Line
from wetside.figures.finding import Unusable
from wetside.stages.causes.company import suspects
from wetside.stages.causes.evidence import Evidence, evidence_from
from wetside.stages.causes.model import as_json, ranked_causes
from wetside.stages.causes.next_test import next_test
from wetside.store.ledger import Ledger

AIM_C = {"ecn-2": 41.1, "c-41": 37.8}


def causes_of_file(file: Path) -> dict[str, Any]:
    """Causes for evidence in a JSON file."""
    try:
        given = json.loads(file.read_text(encoding="utf-8"))
    except OSError as slip:
        raise Unusable(f"cannot be read: {slip.strerror}", str(file)) from None
    except (ValueError, RecursionError) as slip:
        raise Unusable(f"expected JSON: {slip}", str(file)) from None
    return causes(evidence_from(given))


def causes(evidence: Evidence) -> dict[str, Any]:
    """The `wetside.causes/1` object for evidence."""
    ranked = ranked_causes(evidence)
    found = as_json(ranked, evidence, next_test(ranked))
    found["company"] = suspects(evidence.company)
    return found


def causes_of_run(home: Path, name: str) -> dict[str, Any]:
    """Causes for a run or a roll of the book, from its lines and those of the rolls it went with."""
    with Ledger.open(home, must_exist=True) as book:
        lines = standing(book.lines(include_struck=True))
    runs = {str(line.body["run"]): line for line in lines if line.kind == "run"}
    rolls = {str(line.body["roll"]) for line in lines if line.kind == "roll"}
    if name not in runs and name not in rolls:
        near = ", ".join([*sorted(runs), *sorted(rolls)][:12]) or "none yet"
        raise Unusable(f"no run or roll {name!r} in the book; there are: {near}", "causes")
    found = causes(evidence_of(lines, name, runs))
    return {**found, "of": name}


def evidence_of(lines: list[Line], name: str, runs: Mapping[str, Line]) -> Evidence:
    """What the book says of a run or a roll."""
    run = runs.get(name) or next(
        (r for r in runs.values() if any(e.get("roll") == name for e in _entries(r))), None
    )
    rolls = [name] if name not in runs else [str(e.get("roll")) for e in _entries(runs[name])]
    measured: list[dict[str, Any]] = [
        one.body["result"] for one in lines if one.kind == "measured" and one.body.get("roll") in rolls
    ]  # type: ignore[misc]
    departures = next(
        (
            one.body["result"]
            for one in reversed(lines)
            if one.kind == "measured"
            and one.body.get("roll") in rolls
            and one.body.get("what") == "departures"
        ),
        {},
    ) or departures_of_run(lines, str(run.body["run"]) if run else "")
    read = next((one for one in reversed(measured) if one.get("schema") == "wetside.read/1"), {})
    marks = [m for frame in read.get("frames", ()) for m in frame.get("marks", ())]
    log, where = log_of(lines, run)
    given = {
        "departures": {k: v for k, v in departures.items() if k in ("dmin", "ld", "hd_ld")} if isinstance(departures, dict) else {},
        "log": log, "marks": marks, "pattern": read.get("pattern", {}).get("answer", "cannot say"), "cast": read.get("cast", {}),
        "answers": {str(one.body["subject"]): str(one.body["answer"]) for one in lines if one.kind == "judged" and one.body.get("roll") in rolls and one.body.get("about") == "question"},
        "tests": {str(one.body["subject"]): str(one.body["answer"]) for one in lines if one.kind == "judged" and one.body.get("roll") in rolls and one.body.get("about") == "test"},
        "company": company_of(lines, runs),
    }  # fmt: skip
    evidence = evidence_from(given)
    return Evidence(**{**{f: getattr(evidence, f) for f in evidence.__dataclass_fields__}, "lines": where})


def _entries(run: Line) -> list[dict[str, Any]]:
    return list(run.body.get("rolls", ()))  # type: ignore[call-overload]


def log_of(lines: list[Line], run: Line | None) -> tuple[dict[str, Any], dict[str, str]]:
    """Deviations that a run's events tell, and the line each rests on."""
    if run is None:
        return {}, {}
    log: dict[str, Any] = {}
    where: dict[str, str] = {}
    own = [one for one in lines if one.kind == "run event" and one.body.get("run") == run.body["run"]]
    aim = AIM_C.get(str(run.body.get("process")))
    for line in own:
        fields: dict[str, Any] = line.body.get("fields", {})  # type: ignore[assignment]
        event = line.body.get("event")
        if (
            event == "temperature"
            and aim
            and "of" not in fields  # tapped at the sink: read with the run's state, below
            and fields.get("celsius") is not None
            and fields.get("step", "developer") == "developer"
        ):
            log["developer_temperature_off_c"] = float(fields["celsius"]) - aim
            where["developer_temperature_off_c"] = line.id
        if event == "deviation":
            key = {
                "missed agitation": "missed_agitation",
                "late pour": "late_drain",
                "late drain": "late_drain",
                "filled short": "tank_fill_short",
            }.get(str(fields.get("what", "")))
            if key:
                log[key], where[key] = True, line.id
    baths: dict[str, Any] = run.body.get("baths", {})  # type: ignore[assignment]
    log["stop_bath_used"] = bool(baths.get("stop"))
    where["stop_bath_used"] = run.id
    for role in ("developer", "bleach", "fixer"):
        used = _area_before(lines, str(baths.get(role, "")), run)
        if used is not None:
            log[f"{role}_area_m2_per_litre"], where[f"{role}_area_m2_per_litre"] = used, run.id
    mixed = next(
        (one for one in lines if one.kind == "bath" and one.body.get("bath") == baths.get("developer")), None
    )
    if mixed is not None:
        log["developer_age_days"] = max(0.0, (run.happened_at - mixed.happened_at) / 86400)
        where["developer_age_days"] = mixed.id
    tapped, taps = log_of_taps(lines, run)
    return log | tapped, where | taps


def _area_before(lines: list[Line], bath: str, run: Line) -> float | None:
    from wetside.app.shelf import _area

    mixed = next((one for one in lines if one.kind == "bath" and one.body.get("bath") == bath), None)
    if mixed is None:
        return None
    sizes = {str(one.body["roll"]): _area(one.body) for one in lines if one.kind == "roll"}
    before = [
        one
        for one in lines
        if one.kind == "run"
        and one.happened_at < run.happened_at
        and bath in dict(one.body.get("baths", {})).values()
    ]  # type: ignore[call-overload]
    area = sum(sizes.get(str(e.get("roll")), 0.0) for one in before for e in _entries(one))
    return area / (float(mixed.body["volume_ml"]) / 1000)  # type: ignore[arg-type]


def company_of(lines: list[Line], runs: Mapping[str, Line]) -> list[dict[str, Any]]:
    """Every judged roll with the things its run touched."""
    verdicts = {
        str(one.body["roll"]): one.body["answer"]
        for one in lines
        if one.kind == "judged" and one.body.get("about") == "frame" and one.body.get("subject") == "roll"
    }
    found = []
    for roll, answer in verdicts.items():
        run = next((r for r in runs.values() if any(e.get("roll") == roll for e in _entries(r))), None)
        things = [str(t) for t in run.touches if t.kind not in ("roll", "run")] if run else []
        things += [
            str(t)
            for one in lines
            if one.kind in ("roll", "exposed", "scan") and one.body.get("roll") == roll
            for t in one.touches
            if t.kind not in ("roll",)
        ]
        found.append({"id": roll, "bad": answer == "bad", "things": sorted(set(things))})
    return found
