"""A control strip read where it lies on the glass, and its batch noted: what the page offers beside the commands."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from wetside.app.sensitometry.strip import StripOptions, batch_steps, read_and_note
from wetside.app.viewing.glass import frame_of
from wetside.book.strips import StripBatch
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger
from wetside.store.scans.parts import whole

#: How the steps may lie in the rectangle drawn round them.
LAID = {"borders": "found by their borders", "row": "in one row that fills the area", "block": "in two rows of three that fill it"}  # fmt: skip
MOST_RUNS = 20


@dataclass(frozen=True, slots=True)
class StripPlace:
    """A frame of a roll and the rectangle in it, in pixels of the file, that holds the scale."""

    roll: str
    file: str
    box: Rectangle
    laid: str = "borders"


def batches_noted(home: Path) -> list[str]:
    """Batches of strips that were noted, the last first."""
    return _named(home, "strip batch", "batch")


def runs_noted(home: Path) -> list[str]:
    """The last runs of the book, the latest first."""
    return _named(home, "run", "run")[:MOST_RUNS]


def stocks_noted(home: Path) -> list[str]:
    """Stocks of the book, the last noted first."""
    return _named(home, "stock", "stock")


def _named(home: Path, kind: str, key: str) -> list[str]:
    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        lines = sorted(book.lines(kind=kind), key=lambda line: -line.happened_at)
    return list(dict.fromkeys(str(line.body[key]) for line in lines))


def note_batch(home: Path, batch: StripBatch) -> None:
    """Note a batch of strips; Unusable for steps that are not four, rising from 1."""
    steps = batch.steps
    if len(steps) != 4 or steps[0] < 1 or any(b <= a for a, b in pairwise(steps)):
        raise Unusable(
            "four step numbers that rise were expected, like 1,3,4,6: those that stand for D-min, LD, MD and HD",
            "steps",
        )
    with Ledger.open(home) as book:
        book.append(batch, happened_at=clock.wall())


def read_on_glass(home: Path, place: StripPlace, batch: str, run: str, reference: bool) -> None:
    """Read the scale in the rectangle as a strip of the batch and keep it; Unusable with what would help where it cannot be."""
    file = whole(frame_of(home, place.roll, place.file))
    if not run and not reference:
        raise Unusable("a strip belongs to a run, or is a reference: name the run", "run")
    count = max(6, *batch_steps(home, batch)[0])
    read_and_note(home, file, laid_as(place, count), batch, run, reference)


def laid_as(place: StripPlace, count: int) -> StripOptions:
    """How to look for so many steps in a place."""
    if place.laid == "borders":
        return StripOptions(steps=count, within=place.box)
    if place.laid == "block":
        return StripOptions(within=place.box, grid=(3, -(-count // 3)))
    return StripOptions(within=place.box, grid=(count, 1) if place.box.w >= place.box.h else (1, count))
