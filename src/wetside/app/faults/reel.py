"""Where a roll's marks lay in the tank: its marks along the film, and the reel that the book says it was on."""

from __future__ import annotations

import statistics
from pathlib import Path
from typing import Any

from wetside.app.faults.gathered import frames_of, pattern_of, places_of, reel_noted
from wetside.app.faults.told import Told, run_of, told_of_book
from wetside.app.viewing.verdicts import verdicts_of
from wetside.book.line import Line
from wetside.figures.finding import Unusable
from wetside.stages.causes.signs.pattern import FEWEST, FEWEST_PLACES, merged
from wetside.stages.causes.signs.repeats import ReelHint
from wetside.stages.causes.signs.verdicts import with_verdicts


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
    places, at = places_of(reading), frames_of(reading)
    noted = reel_noted(lines, run_of(runs, roll), roll)
    found = pattern_of(reading, noted[0] if noted else None)
    fit = found.get("fit")
    shown = (
        (fit["core_radius_mm"], fit["pitch_mm"])
        if fit
        else (noted[0].core_radius, noted[0].pitch)
        if noted
        else None
    )
    return {
        "marks": len(every), "places": places, "frames": at, "windows": windows(reading), "pattern": found, "line": line, "length": _length(lines, roll, reading),
        "reel": noted[1] if noted else None, "core_end": noted[0].core if noted else "head", "radius_pitch": shown, "fitted": bool(fit),
        "drawn": shown is not None and len(places) >= FEWEST and len(merged(places)) >= FEWEST_PLACES, "fewest": FEWEST,
    }  # fmt: skip


def reel_of(home: Path, roll: str) -> ReelHint | None:
    """The reel that the book says a roll was on; None where there is no book, no such roll, or no figures of its reel."""
    try:
        lines, runs = told_of_book(home, roll)
        noted = reel_noted(lines, run_of(runs, roll), roll)
    except Unusable:
        return None
    return noted[0] if noted else None


def windows(reading: dict[str, Any]) -> list[tuple[float, float]]:
    """Where each picture begins on the film and how long it is [mm], by the marks in it; none where no scale is told."""
    lengths = reading["geometry"]
    pitch, scale = lengths.get("frame_pitch_mm"), lengths.get("px_per_mm")
    if not pitch or not scale:
        return []
    ways: tuple[list[float], list[float]] = ([], [])
    for number, frame in enumerate(reading["frames"]):
        picture = frame["picture"]
        for mark in frame["marks"]:
            if mark.get("film_mm") is not None:
                into = mark["x"] + mark["w"] / 2 - picture["x"]
                for way, px in zip(ways, (into, picture["w"] - into)):
                    way.append(mark["film_mm"] - number * pitch - px / scale)
    if not ways[0]:
        return []
    first = statistics.median(min(ways, key=lambda way: max(way) - min(way)))
    return [
        (first + number * pitch, frame["picture"]["w"] / scale)
        for number, frame in enumerate(reading["frames"])
    ]


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
