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
    path = home / FOLDER / f"{name}.json"
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        if kept["mark"] == mark:
            return kept["summary"]
    except (OSError, ValueError, KeyError, TypeError):
        pass
    found = json.loads(json.dumps(made()))
    try:
        path.parent.mkdir(exist_ok=True)
        beside = path.with_suffix(f".{os.getpid()}.part")
        beside.write_text(json.dumps({"mark": mark, "summary": found}), encoding="utf-8")
        beside.replace(path)
    except OSError:
        pass
    return found
