"""How a roll's scans lie on the film, as the book says: which side is the head's, which edge the perforations', emulsion up or down.

One place for it, so that reading, glass, print and contact sheet count frames from the same end.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from wetside.app.reading.read_options import ReadOptions
from wetside.book.kinds import Measured
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger

WHAT = "lie"
CHOICES = {"head": ("left", "right"), "perf": ("top", "bottom", "both")}


@dataclass(frozen=True, slots=True)
class Told:
    """Head's side, perforated edge, and whether the scans are mirrored (emulsion down)."""

    head: str = "left"
    perf: str = "top"
    mirrored: bool = False

    @property
    def from_right(self) -> bool:
        """Whether the film runs from right to left in the scans."""
        return (self.head == "right") != self.mirrored


def lie_told(folder: Path) -> Told:
    """What the book says of a roll whose scans lie in this folder of it; the usual lie for any other folder."""
    beside = book_beside(folder)
    return _told(folder.parent.parent, folder.name, beside) if beside else Told()


def book_beside(folder: Path) -> tuple[tuple[int, int], ...]:
    """Size and time of the book that a roll's folder of scans belongs to, as its files stand now; empty where it has none."""
    book = folder.parent.parent / FILE
    if folder.parent.name != "scans" or not book.is_file():
        return ()
    stamps = []
    for place in (book, book.with_name(book.name + "-wal")):
        # The log beside the book goes with its last connection, at any instant.
        with suppress(FileNotFoundError):
            found = place.stat()
            stamps.append((found.st_size, found.st_mtime_ns))
    return tuple(stamps)


@lru_cache(maxsize=64)
def _told(home: Path, roll: str, _stamps: tuple[tuple[int, int], ...]) -> Told:
    with Ledger.open(home) as book:
        lines = [
            one
            for one in book.lines(thing=Thing("roll", roll), kind="measured")
            if one.body.get("what") == WHAT
        ]
    if not lines:
        return Told()
    said: dict[str, Any] = dict(lines[-1].body["result"])  # type: ignore[call-overload]
    return Told(str(said["head"]), str(said["perf"]), bool(said["mirrored"]))


def keep_lie(home: Path, roll: str, told: Told) -> None:
    """Note how a roll's scans lie, as a line, where it is not what the book says already."""
    if told.head not in CHOICES["head"] or told.perf not in CHOICES["perf"]:
        raise Unusable(
            f"head is left or right, perf top, bottom or both; found {told.head[:20]!r}, {told.perf[:20]!r}",
            "glass",
        )
    if told == lie_told(home / "scans" / roll):
        return
    with Ledger.open(home) as book:
        book.append(Measured(roll=roll, what=WHAT, result=asdict(told)), happened_at=clock.wall())


def with_lie(folder: Path, options: ReadOptions) -> ReadOptions:
    """Options with what the book says of the scans' lie where the caller says nothing."""
    told = lie_told(folder)
    return replace(
        options, head=options.head or told.head, perf=options.perf or told.perf, mirrored=options.mirrored or told.mirrored
    )  # fmt: skip
