"""More scans of a roll that is there: a second folder is laid beside the first and noted, file by file, as lines of the book."""

from __future__ import annotations

import shutil
import uuid
from pathlib import Path

from wetside.app.viewing.verdicts import word_on_mark
from wetside.book.kinds import Body, ScanAttached
from wetside.book.text import line_of
from wetside.figures.finding import Finding, Unusable
from wetside.store import clock
from wetside.store.dropped import forget_words, words_on
from wetside.store.ledger import Ledger
from wetside.store.scans.folder import role
from wetside.store.scans.gather import Gathered, lay_beside
from wetside.store.scans.stamps import sha256


def add_scans(home: Path, roll: str, folder: Path, *, move: bool = False) -> tuple[int, list[Finding]]:
    """Lay a folder's images after a roll's and note each; how many were added, and what there is to say of them.
    What was said on the marks of dropped scans goes along.

    Unusable where the roll has no scans in the book's folder. With `move` the folder given goes when all is laid down.
    """
    place = home / "scans" / roll
    if not place.is_dir() or place.parent.resolve() != (home / "scans").resolve():
        raise Unusable(f"no scans of {roll[:60]!r} in the book", "roll")
    together = Gathered()
    together.add(place)
    frames = sum(role(path) == "frame" for path in together.files.values())
    together.findings.clear()
    added = together.add(folder)
    lay_beside(added, place)
    with Ledger.open(home) as book:
        now = clock.wall()
        bodies: list[Body] = [
            ScanAttached(roll=roll, file=name, sha256=sha256(place / name), frame=frames + i)
            for i, name in enumerate(added, 1)
        ]
        names = {path.name: name for name, path in added.items()}
        for word in words_on(folder):
            if word["file"] in names:
                bodies.append(word_on_mark(roll, word.pop("answer"), {**word, "file": names[word["file"]]}))
        book.append_lines([line_of(b, name=uuid.uuid4().hex, happened_at=now, noted_at=now) for b in bodies])
    if move:
        shutil.rmtree(folder, ignore_errors=True)
        forget_words(folder)
    return len(added), together.findings


def folder_or_roll(home: Path, word: Path) -> Path:
    """A folder, or the folder of a roll's scans in the book where there is no folder of that name."""
    of_roll = home / "scans" / word
    return of_roll if not word.exists() and len(word.parts) == 1 and of_roll.is_dir() else word
