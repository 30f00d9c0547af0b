"""Where a roll's marks repeat, with the user's words on them: the reading's own answer, or asked anew where words changed it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from wetside.book.line import Line
from wetside.figures.reading import Pattern
from wetside.stages.causes.signs.pattern import Strip, pattern
from wetside.stages.causes.signs.repeats import ReelHint


def places_of(reading: Mapping[str, Any]) -> list[float]:
    """Places of the marks along the film [mm], in order; marks without one are left out."""
    return [along for along, _ in _placed(reading)]


def frames_of(reading: Mapping[str, Any]) -> list[int]:
    """The frame (from 1) of each of those marks, in the same order."""
    known = [
        (float(mark["film_mm"]), number)
        for number, frame in enumerate(reading.get("frames", ()), 1)
        for mark in frame.get("marks", ())
        if mark.get("film_mm") is not None
    ]
    return [number for _, number in sorted(known, key=lambda place: place[0])]


def _placed(reading: Mapping[str, Any]) -> list[tuple[float, float | None]]:
    """Places of the marks along the film [mm] and across it [0 to 1], in order."""
    every = [mark for frame in reading.get("frames", ()) for mark in frame.get("marks", ())]
    known = [
        (float(mark["film_mm"]), mark.get("across")) for mark in every if mark.get("film_mm") is not None
    ]
    return sorted(known, key=lambda place: place[0])


def pattern_of(reading: Mapping[str, Any], reel: ReelHint | None) -> dict[str, Any]:
    """The pattern of a reading as the user left it; the one that was read where no word was said on its marks."""
    own = dict(reading.get("pattern") or {"answer": "cannot say"})
    if not any(mark.get("verdict") for frame in reading.get("frames", ()) for mark in frame["marks"]):
        return own
    strip = _strip(reading)
    return own if strip is None else asked(tuple(_placed(reading)), strip, reel).as_json()


@lru_cache(maxsize=32)
def asked(placed: tuple[tuple[float, float | None], ...], strip: Strip, reel: ReelHint | None) -> Pattern:
    """The pattern of such places along and across the film; kept, since a page asks more than once."""
    along, across = [place[0] for place in placed], [place[1] for place in placed]
    return pattern(along, strip, reel, np.random.default_rng(20), across)


def _strip(reading: Mapping[str, Any]) -> Strip | None:
    """How the pictures lie, from a reading; None where it tells no scale."""
    lengths = reading.get("geometry") or {}
    pitch, scale = lengths.get("frame_pitch_mm"), lengths.get("px_per_mm")
    if not pitch or not scale:
        return None
    frames = reading["frames"]
    wide = float(np.median([frame["picture"]["w"] for frame in frames])) / scale
    return Strip(0.0, pitch, min(wide, pitch), len(frames), lengths.get("perf_pitch_mm"), None, 0.3)


def reel_noted(lines: list[Line], run: Line | None, roll: str) -> tuple[ReelHint, str] | None:
    """The reel that a roll's run names, with its name; None where the run or the reel's figures are not noted."""
    entries: list[dict[str, Any]] = list(run.body.get("rolls", ())) if run else []  # type: ignore[call-overload]
    own = next((entry for entry in entries if entry.get("roll") == roll), {})
    name = own.get("reel")
    reel = next((one for one in reversed(lines) if one.kind == "reel" and one.body.get("reel") == name), None)
    if reel is None or not reel.body.get("inner_radius_mm") or not reel.body.get("pitch_mm"):
        return None
    radius, pitch = float(str(reel.body["inner_radius_mm"])), float(str(reel.body["pitch_mm"]))
    return ReelHint(radius, pitch, 1.0, str(own.get("core") or "head")), str(name)
