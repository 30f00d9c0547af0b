"""The user's word on marks: what is confirmed stays, what is not one goes, what was drawn comes in. Pure: reading in, reading out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wetside.figures.place import Rectangle, intersection_over_union

ANSWERS = ("confirmed", "not one", "drawn")
SAME = 0.3


@dataclass(frozen=True)
class Verdict:
    """One word on one place of a frame: x, y, w, h in pixels of the file; a drawn mark brings its own figures."""

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
    frames = [
        {**f, "marks": marks_left(f, [v for v in verdicts if v.file == f["file"]])} for f in reading["frames"]
    ]
    return {**reading, "frames": frames}


def marks_left(frame: Mapping[str, Any], verdicts: Sequence[Verdict]) -> list[dict[str, Any]]:
    """A frame's marks with the verdicts applied in order; each mark carries the last word as `verdict`."""
    marks: list[dict[str, Any]] = [dict(mark) for mark in frame["marks"]]
    for verdict in verdicts:
        meant = [m for m in marks if intersection_over_union(box_of(m), verdict.box) > SAME]
        if verdict.answer == "drawn" and not meant:
            marks.append({**(verdict.mark or {}), **verdict.box.as_json(), "verdict": "drawn"})
        for mark in meant:
            mark["verdict"] = "confirmed" if verdict.answer == "drawn" else verdict.answer
        if verdict.answer == "drawn" and meant:
            # Where it lies is what the user drew.
            meant[0].update(verdict.box.as_json(), outline=[])
    return [mark for mark in marks if mark.get("verdict") != "not one"]
