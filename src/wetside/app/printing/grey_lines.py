"""Places of a roll that were grey before the camera, as the book's lines leave them. No numpy."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from wetside.book.kinds import PrintGreys
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger

Greys = tuple[tuple[str, Rectangle], ...]
#: A grey scale has hardly more steps than this.
MOST = 48
SPOT = re.compile(r"(.{1,255}):(\d{1,6}),(\d{1,6}),(\d{1,6}),(\d{1,6})")


def greys_from(spots: Iterable[str]) -> Greys:
    """Greys from spots "FILE:x,y,w,h" in whole pixels of the file; Unusable where one is no spot or there are too many."""
    given = list(spots)
    if len(given) > MOST:
        raise Unusable(f"{len(given)} greys are too many: {MOST} at most", "greys")
    found = []
    for text in given:
        spot = SPOT.fullmatch(text)
        if spot is None or int(spot[4]) < 4 or int(spot[5]) < 4:
            raise Unusable(
                f"expected FILE:x,y,w,h in whole pixels, 4 × 4 at least, found {text[:80]!r}", "greys"
            )
        x, y, w, h = (int(spot[i]) for i in range(2, 6))
        found.append((spot[1], Rectangle(x, y, w, h)))
    return tuple(found)


def spots(greys: Greys) -> list[str]:
    """Greys as they are written: "FILE:x,y,w,h"."""
    return [f"{file}:{box.x},{box.y},{box.w},{box.h}" for file, box in greys]


def greys_of(home: Path, roll: str) -> Greys:
    """The greys of a roll; the last line counts, and one without a spot takes them all back."""
    if not (home / FILE).exists():
        return ()
    with Ledger.open(home) as book:
        lines = list(book.lines(thing=Thing("roll", roll), kind=PrintGreys.kind))
    said = lines[-1].body.get("spots", ()) if lines else ()
    return greys_from(str(spot) for spot in said) if isinstance(said, list | tuple) else ()


def keep_greys(home: Path, roll: str, greys: Greys, files: set[str]) -> int:
    """One line with these greys, unless the book says the same; how many lines."""
    for file, _ in greys:
        if file not in files:
            raise Unusable(f"{file[:60]!r} is no frame of {roll}", "greys")
    if greys == greys_of(home, roll):
        return 0
    with Ledger.open(home) as book:
        book.append(PrintGreys(roll=roll, spots=tuple(spots(greys))), happened_at=clock.wall())
    return 1
