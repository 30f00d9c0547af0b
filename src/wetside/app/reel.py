"""Where a roll's marks lay in the tank: its marks along the film, and the reel that the book says it was on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wetside.app.causes import Told, run_of, told_of_book
from wetside.app.verdicts import verdicts_of
from wetside.book.line import Line
from wetside.figures.finding import Unusable
from wetside.stages.causes.pattern import FEWEST, ON_REEL, merged
from wetside.stages.causes.repeats import ReelHint
from wetside.stages.causes.verdicts import with_verdicts

DRY = (
    "Keep the dry roll in one piece; wash and dry your hands.",
    "Put it back on the reel it was on, the same end first, until it lies as it lay.",
    "Look at it from above under a lamp: one side, neighbouring turns, one level, or anywhere?",
    "Answer the first look on the glass: where does it repeat?",
)


def marks_on_reel(home: Path, roll: str, told: Told | None = None) -> dict[str, Any] | None:
    """Marks of a roll's last reading along the film, the reel, and whether so many may be drawn on it; None without marks."""
    lines, runs = told or told_of_book(home, roll)
    reading, line = _reading(lines, roll)
    if reading is None:
        return None
    reading = with_verdicts(reading, verdicts_of(lines, roll))
    every = [mark for frame in reading["frames"] for mark in frame["marks"]]
    if not every:
        return None
    places = sorted(float(mark["film_mm"]) for mark in every if mark.get("film_mm") is not None)
    noted = reel_noted(lines, runs, roll)
    fit = reading["pattern"].get("fit")
    shown = (
        (fit["core_radius_mm"], fit["pitch_mm"])
        if fit
        else (noted[0].core_radius, noted[0].pitch)
        if noted
        else None
    )
    return {
        "marks": len(every), "places": places, "pattern": reading["pattern"], "line": line, "length": _length(lines, roll, reading),
        "reel": noted[1] if noted else None, "core_end": noted[0].core if noted else "head", "radius_pitch": shown, "fitted": bool(fit),
        "drawn": shown is not None and len(merged(places)) >= FEWEST, "fewest": FEWEST, "test": ON_REEL, "steps": DRY,
    }  # fmt: skip


def reel_of(home: Path, roll: str) -> ReelHint | None:
    """The reel that the book says a roll was on; None where there is no book, no such roll, or no figures of its reel."""
    try:
        noted = reel_noted(*told_of_book(home, roll), roll)
    except Unusable:
        return None
    return noted[0] if noted else None


def reel_noted(lines: list[Line], runs: dict[str, Line], roll: str) -> tuple[ReelHint, str] | None:
    """The reel that a roll's run names, with its name; None where the run or the reel's figures are not noted."""
    run = run_of(runs, roll)
    entries: list[dict[str, Any]] = list(run.body.get("rolls", ())) if run else []  # type: ignore[call-overload]
    own = next((entry for entry in entries if entry.get("roll") == roll), {})
    name = own.get("reel")
    reel = next((one for one in reversed(lines) if one.kind == "reel" and one.body.get("reel") == name), None)
    if reel is None or not reel.body.get("inner_radius_mm") or not reel.body.get("pitch_mm"):
        return None
    radius, pitch = float(str(reel.body["inner_radius_mm"])), float(str(reel.body["pitch_mm"]))
    return ReelHint(radius, pitch, 1.0, str(own.get("core") or "head")), str(name)


def _reading(lines: list[Line], roll: str) -> tuple[dict[str, Any] | None, str | None]:
    read = [
        one
        for one in lines
        if one.kind == "measured" and one.body.get("roll") == roll and one.body.get("what") == "read"
    ]
    return (read[-1].body["result"], read[-1].id) if read else (None, None)  # type: ignore[return-value]


def _length(lines: list[Line], roll: str, reading: dict[str, Any]) -> float:
    loaded = next((one for one in lines if one.kind == "roll" and one.body.get("roll") == roll), None)
    frames = len(reading["frames"]) * (reading["geometry"]["frame_pitch_mm"] or 38.0)
    return float(str(loaded.body["length_mm"])) if loaded and loaded.body.get("length_mm") else frames + 100.0
