"""Summaries: what was worked out from the lines, kept so that a page need not read the whole book again.

A summary can be dropped at any time; it is good only for the very lines it was made from, and is made anew otherwise.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from wetside.store.ledger import Ledger

FOLDER = "summaries"


def summary(home: Path, name: str, book: Ledger, version: int, made: Callable[[], Any]) -> Any:
    """The summary of a name if it rests on the book as it stands, else a new one, kept beside the book.

    `version` is that of the code that makes it. A summary that cannot be written is not an error.
    """
    mark = {"version": version, "lines": book.count(), "last": book.last_id()}
    found = kept(home, name, mark)
    if found is None:
        found = json.loads(json.dumps(made()))
        keep(home, name, mark, found)
    return found


def kept(home: Path, name: str, mark: Any) -> Any | None:
    """The summary of a name if it was made for this very mark."""
    try:
        there = json.loads((home / FOLDER / f"{name}.json").read_text(encoding="utf-8"))
        return there["summary"] if there["mark"] == mark else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def keep(home: Path, name: str, mark: Any, found: Any) -> None:
    """Keep a summary beside the book; one that cannot be written is not an error."""
    path = home / FOLDER / f"{name}.json"
    try:
        path.parent.mkdir(exist_ok=True)
        beside = path.with_suffix(f".{os.getpid()}.part")
        beside.write_text(json.dumps({"mark": mark, "summary": found}), encoding="utf-8")
        beside.replace(path)
    except OSError:
        pass


def files_mark(folder: Path) -> list[list[object]]:
    """Names, sizes and times of change of a folder's files: a mark that changes when one of them does."""
    found = []
    for path in sorted(folder.iterdir()):
        if path.is_file() and not path.name.startswith("."):
            told = path.stat()
            found.append([path.name, told.st_size, told.st_mtime_ns])
    return found
