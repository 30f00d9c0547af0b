"""Summaries: what was worked out from the lines, kept so that a page need not read the whole book again.

A summary can be dropped at any time. It is good for the lines it was made from; lines noted since are added where that
can be done, and it is made anew otherwise.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from wetside.book.line import Line
from wetside.store.ledger import Ledger

FOLDER = "summaries"


def summary(
    home: Path,
    name: str,
    book: Ledger,
    version: int,
    made: Callable[[], Any],
    grown: Callable[[Any, list[Line]], Any] | None = None,
) -> Any:
    """The summary of a name if it rests on the book as it stands, else a new one, kept beside the book.

    `version` is that of the code that makes it. `grown` takes a summary and the lines noted since on to a new one, or
    gives None where only all lines can tell. A summary that cannot be written is not an error.
    """
    number, last = book.last()
    mark = {"version": version, "number": number, "last": last}
    there = begun(home, name, version, book)
    found = None
    if there is not None:
        if there["mark"] == mark:
            return there["summary"]
        if grown is not None:
            new = book.lines(after=there["mark"]["number"], include_struck=True)
            found = grown(there["summary"], new)
    found = json.loads(json.dumps(made() if found is None else found))
    keep(home, name, mark, found)
    return found


def begun(home: Path, name: str, version: int, book: Ledger) -> dict[str, Any] | None:
    """Mark and summary, if this code made them from lines that still stand at the beginning of the book."""
    there = written(home, name)
    try:
        mark = there["mark"]
        good = mark["version"] == version and book.holds(int(mark["number"]), mark["last"])
        return there if good and "summary" in there else None
    except (ValueError, KeyError, TypeError):
        return None


def kept(home: Path, name: str, mark: Any) -> Any | None:
    """The summary of a name if it was made for this very mark."""
    there = written(home, name)
    try:
        return there["summary"] if there["mark"] == mark else None
    except (KeyError, TypeError):
        return None


def written(home: Path, name: str) -> Any:
    """What is kept under a name; None where nothing can be read."""
    try:
        return json.loads((home / FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None


def keep(home: Path, name: str, mark: Any, found: Any) -> None:
    """Keep a summary beside the book; one that cannot be written is not an error."""
    path = home / FOLDER / f"{name}.json"
    with contextlib.suppress(OSError):
        path.parent.mkdir(exist_ok=True)
        beside = path.with_suffix(f".{os.getpid()}.part")
        beside.write_text(json.dumps({"mark": mark, "summary": found}), encoding="utf-8")
        beside.replace(path)


def files_mark(folder: Path) -> list[list[object]]:
    """Names, sizes and times of change of a folder's files: a mark that changes when one of them does."""
    found = []
    for path in sorted(folder.iterdir()):
        if path.is_file() and not path.name.startswith("."):
            told = path.stat()
            found.append([path.name, told.st_size, told.st_mtime_ns])
    return found
