"""The book as a page shows it: lines newest first, a thing's life, one line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any

from wetside.app.ink_words import sentence
from wetside.book.line import Line, Thing
from wetside.figures.finding import Unusable
from wetside.store.ledger import FILE, Ledger

MOST = 200
FEWEST_FOLDED = 3
#: Kinds of which many follow each other, in the words of a heap of them.
FOLDED = {
    "scan": "scans of", "run event": "taps of", "print trim": "lights of", "judged": "words on", "measured": "readings of",
    "exposed": "notes of exposures on", "light seen": "looks at",
}  # fmt: skip
#: Sorts of lines that a reader looks for, each with its kinds.
SORTS = {
    "film": ("stock", "roll", "exposed", "parcel", "plan", "issued"),
    "baths and gear": ("kit", "bath", "bath emptied", "tank", "reel", "thermometer", "gear", "process"),
    "runs": ("run", "run event", "strip", "strip batch", "control aim"),
    "scans": ("scan", "measured", "calibration", "light seen"),
    "prints": ("print trim", "print greys"),
    "your word": ("judged", "note", "correction"),
}


def ink(
    home: Path, thing: str | None = None, kind: str | None = None, sort: str | None = None
) -> dict[str, Any]:
    """Lines newest first, of all things or of one, of one kind or a sort of kinds; at most 200, with how many there are."""
    about = _thing(thing) if thing else None
    kinds: str | tuple[str, ...] | None = kind or SORTS.get(sort or "")
    asked = {"thing": thing, "kind": kind, "sort": sort if sort in SORTS else None}
    if not (home / FILE).exists():
        return {"lines": [], "days": [], "count": 0, **asked}
    with Ledger.open(home) as book:
        if about or kinds:
            lines = book.lines(thing=about, kind=kinds, include_struck=True)
            count = len(lines)
        else:
            lines, count = book.latest(MOST), book.count()
        struck = book.struck()
    lines.sort(key=lambda line: (line.happened_at, line.noted_at), reverse=True)
    told = [shown(line, struck) for line in lines[:MOST]]
    return {"lines": told, "days": days(told), "count": count, **asked}


def line(home: Path, name: str) -> dict[str, Any]:
    """One line, whole; Unusable when there is none of that id."""
    if (home / FILE).exists():
        with Ledger.open(home) as book:
            found = book.line(name)
            if found is not None:
                return shown(found, book.struck())
    raise Unusable(f"no line {name[:64]!r} in the book", "ink")


def _thing(text: str) -> Thing:
    try:
        return Thing.parse(text)
    except ValueError as slip:
        raise Unusable(str(slip), "thing") from None


def shown(line_: Line, struck: frozenset[str]) -> dict[str, Any]:
    """A line for a page: its words, its things, whether it is struck."""
    return {
        "id": line_.id, "kind": line_.kind, "at": line_.happened_at, "noted": line_.noted_at, "struck": line_.id in struck,
        "things": [str(t) for t in line_.touches], "say": sentence(line_), "body": line_.body,
    }  # fmt: skip


def days(lines: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Lines as `shown`, in the order given, by local day; many alike that follow each other are one entry.

    A day: `at` and its `entries`; an entry: its `lines`, and `say` where they are folded.
    """
    found: list[dict[str, Any]] = []
    for date, of_day in groupby(lines, lambda one: datetime.fromtimestamp(one["at"]).date()):
        entries = [_entry(list(alike)) for _, alike in groupby(of_day, _likeness)]
        found.append({"date": date.isoformat(), "entries": [one for many in entries for one in many]})
    return found


def _likeness(line_: Mapping[str, Any]) -> tuple[str, str]:
    return (
        (line_["kind"], line_["things"][0] if line_["things"] else "")
        if line_["kind"] in FOLDED
        else (line_["id"], "")
    )


def _entry(alike: list[Mapping[str, Any]]) -> list[dict[str, Any]]:
    if len(alike) < FEWEST_FOLDED:
        return [{"lines": [one]} for one in alike]
    return [
        {
            "lines": alike,
            "say": f"{len(alike)} {FOLDED[alike[0]['kind']]} {alike[0]['things'][0].partition(':')[2]}",
        }
    ]
