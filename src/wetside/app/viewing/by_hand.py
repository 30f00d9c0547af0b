"""What the user said of a roll on the glass, as lines: spots picked."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from wetside.app.viewing.densitometer import density_at
from wetside.book.kinds import Measured
from wetside.book.line import Line, Thing
from wetside.figures.finding import Unusable
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger

PICKED = "spots picked"
MOST = 120


def keep_spots(home: Path, roll: str, spots: Sequence[tuple[str, int, int]]) -> list[dict[str, Any]]:
    """Read spots (file, x, y) once more and keep those that have a density as one line; Unusable where none has."""
    if not 0 < len(spots) <= MOST:
        raise Unusable(f"1 to {MOST} spots are kept at once, found {len(spots)}", "glass")
    read = [{"file": file, "at": [x, y], **density_at(home, roll, file, x, y)} for file, x, y in spots]
    known = [one for one in read if one["density"]]
    if not known:
        raise Unusable(f"none of the spots has a density: {read[0]['say']}", "glass")
    with Ledger.open(home) as book:
        book.append(Measured(roll=roll, what=PICKED, result={"spots": known}), happened_at=clock.wall())
    return known


def spots_of(home: Path, roll: str) -> list[dict[str, Any]]:
    """The spots kept for a roll, each with its line."""
    return [
        {**spot, "line": one.id}
        for one in _told(home, roll, PICKED)
        for spot in one.body["result"]["spots"]  # type: ignore[index]
    ]


def _told(home: Path, roll: str, what: str) -> Iterable[Line]:
    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        lines = book.lines(thing=Thing("roll", roll), kind="measured")
    return [one for one in lines if one.body.get("what") == what and isinstance(one.body.get("result"), dict)]
