"""Places of a roll that may be marks, in the order in which one looks at them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from wetside.app.viewing.verdicts import verdicts_of
from wetside.book.line import Line
from wetside.stages.causes.signs.verdicts import with_verdicts


def places_to_look(reading: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """Every place of a `wetside.read/1` object, with its `file` and the `frame`'s number: frame by frame, likeliest first."""
    return [
        {**place, "file": frame["file"], "frame": frame.get("number") or number}
        for number, frame in enumerate((reading or {}).get("frames", ()), 1)
        for place in frame.get("perhaps", ())
    ]


def places_left(lines: Iterable[Line], rolls: Iterable[str]) -> dict[str, int]:
    """How many places each of some rolls has left to look at, by its last reading; rolls without any are left out."""
    lines = list(lines)
    found = {}
    for roll in rolls:
        readings = [
            one.body["result"]
            for one in lines
            if one.kind == "measured" and one.body.get("roll") == roll and one.body.get("what") == "read"
        ]
        if readings:
            left = with_verdicts(readings[-1], verdicts_of(lines, roll))  # type: ignore[arg-type]
            found[roll] = len(places_to_look(left))
    return {roll: count for roll, count in found.items() if count}
