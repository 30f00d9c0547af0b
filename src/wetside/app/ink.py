"""The book as a page shows it: lines newest first, a thing's life, one line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from wetside.book.line import Line, Thing
from wetside.figures.finding import Unusable
from wetside.store.ledger import FILE, Ledger

MOST = 200


def ink(home: Path, thing: str | None = None, kind: str | None = None) -> dict[str, Any]:
    """Lines newest first, of all things or of one; at most 200, with how many there are."""
    about = _thing(thing) if thing else None
    if not (home / FILE).exists():
        return {"lines": [], "count": 0, "thing": thing, "kind": kind}
    with Ledger.open(home) as book:
        if about or kind:
            lines = book.lines(thing=about, kind=kind or None, include_struck=True)
            count = len(lines)
        else:
            lines, count = book.latest(MOST), book.count()
        struck = book.struck()
    lines.sort(key=lambda line: (line.happened_at, line.noted_at), reverse=True)
    return {
        "lines": [shown(line, struck) for line in lines[:MOST]],
        "count": count,
        "thing": thing,
        "kind": kind,
    }


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


def sentence(line_: Line) -> str:
    """The line in words: its fields that say something."""
    body = line_.body
    if line_.kind == "note":
        return str(body.get("text", ""))
    if line_.kind == "correction":
        return f"strikes {body.get('strikes')}: {body.get('reason', '')}"
    if line_.kind == "measured":
        return f"{body.get('what')} of roll {body.get('roll')}"
    if line_.kind == "run event":
        fields = body.get("fields") or {}
        told = ", ".join(f"{k} {v}" for k, v in fields.items()) if isinstance(fields, dict) else ""
        return f"{body.get('event')}: {told}" if told else str(body.get("event"))
    parts = [
        f"{key.replace('_', ' ')} {value}"
        for key, value in body.items()
        if value not in (None, "", [], {}, ()) and not isinstance(value, dict | list)
    ]
    return ", ".join(parts)[:300]
