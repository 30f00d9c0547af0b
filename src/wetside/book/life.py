"""Lives and corrections: pure functions of lines.

A correction strikes the line it names; a correction that is itself struck no longer strikes. The order in which
lines were noted does not matter: a line is struck when a correction that stands names it.
"""

from __future__ import annotations

from collections.abc import Iterable

from wetside.book.kinds import KINDS
from wetside.book.line import Line, Thing

#: What begins a life comes before what happens in it, where both were noted for one instant.
RANK = {kind: rank for rank, kind in enumerate(KINDS)}


def struck_ids(lines: Iterable[Line]) -> frozenset[str]:
    """Ids of the lines that are struck through. Corrections of corrections are followed to their end."""
    strikers: dict[str, list[str]] = {}
    for line in lines:
        if line.kind == "correction":
            strikers.setdefault(str(line.body.get("strikes", "")), []).append(line.id)
    struck: dict[str, bool] = {}
    for start in strikers:
        stack = [start]
        while stack:
            name = stack[-1]
            waiting = [one for one in strikers.get(name, ()) if one not in struck and one not in stack]
            if waiting:
                stack.extend(waiting)
                continue
            struck[name] = any(not struck.get(one, False) for one in strikers.get(name, ()))
            stack.pop()
    return frozenset(name for name, is_struck in struck.items() if is_struck)


def standing(lines: Iterable[Line]) -> list[Line]:
    """The lines that are not struck, corrections left out, in the order they happened."""
    every = list(lines)
    struck = struck_ids(every)
    kept = [line for line in every if line.id not in struck and line.kind != "correction"]
    return sorted(
        kept,
        key=lambda line: (line.happened_at, line.noted_at, RANK.get(line.kind, len(RANK)), line.id),
    )


def life(lines: Iterable[Line], thing: Thing) -> list[Line]:
    """Every standing line that touches a thing."""
    return [line for line in standing(lines) if thing in line.touches]
