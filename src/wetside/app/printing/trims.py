"""Printer-light trims of a roll as the book's lines leave them. No numpy."""

from __future__ import annotations

from pathlib import Path

from wetside.book.kinds import PrintTrim
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger

Rows = tuple[float, float, float]
#: The farthest a trim may go [D]; beyond it the frame wants another scan, not another light.
MOST = 1.5
NONE: Rows = (0.0, 0.0, 0.0)


def trims_of(home: Path, roll: str) -> tuple[dict[str, Rows], Rows]:
    """Trims by file and the whole roll's balance, r g b [D]; the last line of each counts."""
    if not (home / FILE).exists():
        return {}, NONE
    found: dict[str, Rows] = {}
    with Ledger.open(home) as book:
        for line in book.lines(thing=Thing("roll", roll), kind=PrintTrim.kind):
            body = line.body
            r, g, b = (float(str(body.get(layer, 0.0))) for layer in "rgb")
            found[str(body.get("file", ""))] = (r, g, b)
    balance = found.pop("", NONE)
    return {file: trim for file, trim in found.items() if any(trim)}, balance


def keep_trims(home: Path, roll: str, changed: dict[str, Rows], files: set[str]) -> int:
    """One line for each trim that differs from what the book says; how many. "" is the balance."""
    for file, trim in changed.items():
        if file and file not in files:
            raise Unusable(f"{file[:60]!r} is no frame of {roll}", "trims")
        if len(trim) != 3 or not all(abs(value) <= MOST for value in trim):
            raise Unusable(f"a trim is three densities from -{MOST:g} to {MOST:g} D", file[:60] or "balance")
    trims, balance = trims_of(home, roll)
    before = {"": balance, **trims}
    lines = 0
    with Ledger.open(home) as book:
        for file, trim in changed.items():
            r, g, b = (round(float(value), 4) for value in trim)
            if (r, g, b) != before.get(file, NONE):
                book.append(PrintTrim(roll=roll, file=file, r=r, g=g, b=b), happened_at=clock.wall())
                lines += 1
    return lines
