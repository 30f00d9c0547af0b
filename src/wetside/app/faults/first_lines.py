"""A first look is kept: the first lines of a roll, or the scans that a roll of the shelf was waiting for; what was read, and the answers."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.app.reading.looked import take_look
from wetside.app.viewing.verdicts import word_on_mark
from wetside.book.kinds import Body, Judged, Measured, RollLoaded, ScanAttached
from wetside.book.line import Thing
from wetside.book.text import line_of
from wetside.figures.finding import Unusable
from wetside.laws.reel.gauges import GAUGES
from wetside.stages.causes.ranking.first_look import BY_ID, judged_answers
from wetside.store import clock
from wetside.store.dropped import forget_words, words_on
from wetside.store.ledger import FILE, Ledger
from wetside.store.scans.adopt import adopt
from wetside.store.scans.folder import listing, role
from wetside.store.scans.stamps import sha256

ROLL_NAME = re.compile(r"\w[\w .+@()-]{0,59}\Z")


def keep_look(
    home: Path,
    folder: Path,
    roll: str,
    stock: str,
    gauge: str,
    answers: Mapping[str, Any] | None = None,
    *,
    move: bool = False,
) -> int:
    """Keep a look: the roll where it is new, its scans, what was read, the answers; how many lines.

    The scans are laid under `scans` in the book's folder. A roll that was written down before, and has no scans yet, keeps
    its own stock and gauge. Unusable for a roll that has its scans, and for a name that cannot be one.
    """
    given = judged_answers(answers)
    new = is_new(home, roll, stock, gauge)
    reading = take_look(folder)
    place, words = home / "scans" / roll, words_on(folder)
    adopt(folder, place, move=move)
    bodies: list[Body] = [
        *([RollLoaded(roll=roll, stock=stock, gauge=gauge)] if new else []),
        *_scans_at(place, roll),
        Measured(roll=roll, what="read", result=reading.as_json()),
        *(
            Judged(roll=roll, about="question" if name in BY_ID else "test", subject=name, answer=said)
            for name, said in given.items()
        ),
        *(word_on_mark(roll, one.pop("answer"), one) for one in words),
    ]
    now = clock.wall()
    lines = [line_of(body, name=uuid.uuid4().hex, happened_at=now, noted_at=now) for body in bodies]
    with Ledger.open(home) as book:
        book.append_lines(lines)
    forget_words(folder)
    return len(lines)


def _scans_at(place: Path, roll: str) -> list[ScanAttached]:
    """The scans of a folder: frames in their order, then the light's."""
    files = listing(place)
    lights = [path for path in (files.open_gate, files.dark, *files.flats) if path is not None]
    return [
        *(
            ScanAttached(roll=roll, file=path.name, sha256=sha256(path), frame=n)
            for n, path in enumerate(files.frames, 1)
        ),
        *(ScanAttached(roll=roll, file=path.name, sha256=sha256(path), role=role(path)) for path in lights),
    ]


def is_new(home: Path, roll: str, stock: str, gauge: str) -> bool:
    """Whether scans would begin a roll; False where it was written down and waits for them. Unusable where they cannot be kept."""
    new = not _waits(home, roll)
    _refuse(roll, *((stock, gauge) if new else ("known", "135")))
    return new


def _waits(home: Path, roll: str) -> bool:
    """Whether a roll was written down and has no scans yet; Unusable where it has them."""
    if not (home / FILE).exists():
        return False
    with Ledger.open(home) as book:
        kinds = {line.kind for line in book.lines(thing=Thing("roll", roll), kind=("roll", "scan"))}
    if "scan" in kinds:
        raise Unusable(f"the book has scans of {roll} already; add these to them, or choose another name", "roll")  # fmt: skip
    return "roll" in kinds


def _refuse(roll: str, stock: str, gauge: str) -> None:
    if not ROLL_NAME.match(roll) or roll.startswith("look-"):
        raise Unusable(
            f"a roll's name of letters, digits and . + @ ( ) - was expected (a comma parts names in lists), found {roll[:40]!r}",
            "roll",
        )
    if not stock.strip():
        raise Unusable("a stock was expected: the film's name as you call it", "stock")
    if gauge not in GAUGES:
        raise Unusable(f"a gauge is one of {', '.join(GAUGES)}; found {gauge[:20]!r}", "gauge")
