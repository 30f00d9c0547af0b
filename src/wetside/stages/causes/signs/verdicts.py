"""The user's word on marks: what is confirmed stays, what is not one goes, what was drawn comes in. Pure: reading in, reading out.

A word on a place that may be a mark (`perhaps`) ends the doubt: confirmed it is a mark, else it is gone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wetside.figures.place import Rectangle, intersection_over_union

ANSWERS = ("confirmed", "not one", "drawn")
SAME = 0.3


@dataclass(frozen=True)
class Verdict:
    """One word on one place of a frame: x, y, w, h in pixels of the file; a drawn mark brings its own figures, a confirmed one
    those of the reading in which it was seen, where they were kept."""

    file: str
    box: Rectangle
    answer: str
    mark: Mapping[str, Any] | None = None


def box_of(mark: Mapping[str, Any]) -> Rectangle:
    return Rectangle(*(int(mark[key]) for key in "xywh"))


def with_verdicts(reading: Mapping[str, Any], verdicts: Sequence[Verdict]) -> dict[str, Any]:
    """A `wetside.read/1` object as the user left it; of several words on one place the last counts."""
    if not reading or not verdicts:
        return dict(reading)
    frames = [_left(f, [v for v in verdicts if v.file == f["file"]]) for f in reading["frames"]]
    return {**reading, "frames": frames}


def _left(frame: Mapping[str, Any], verdicts: Sequence[Verdict]) -> dict[str, Any]:
    """A frame with its marks and places as the user left them; a reading of an earlier day has no places."""
    places = [one for one in frame.get("perhaps", ()) if not any(_same(one, said) for said in verdicts)]
    return {**frame, "marks": marks_left(frame, verdicts), "perhaps": places}


def _same(mark: Mapping[str, Any], verdict: Verdict) -> bool:
    return intersection_over_union(box_of(mark), verdict.box) > SAME


def marks_left(frame: Mapping[str, Any], verdicts: Sequence[Verdict]) -> list[dict[str, Any]]:
    """A frame's marks with the verdicts applied in order; each mark carries the last word as `verdict`."""
    marks: list[dict[str, Any]] = [dict(mark) for mark in frame["marks"]]
    for verdict in verdicts:
        meant = [mark for mark in marks if _same(mark, verdict)]
        if verdict.answer == "drawn" and not meant:
            marks.append({**(verdict.mark or {}), **verdict.box.as_json(), "verdict": "drawn"})
        if verdict.answer == "confirmed" and not meant:
            places = (one for one in frame.get("perhaps", ()) if _same(one, verdict))
            marks += [{**one, "verdict": "confirmed"} for one in (next(places, verdict.mark),) if one]
        for mark in meant:
            mark["verdict"] = "confirmed" if verdict.answer == "drawn" else verdict.answer
        if verdict.answer == "drawn" and meant:
            # Where it lies is what the user drew.
            meant[0].update(verdict.box.as_json(), outline=[])
    return [mark for mark in marks if mark.get("verdict") != "not one"]
