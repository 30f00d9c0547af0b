"""How long work reports: a plain function of what is being done, how much is done, and of how much."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, int, int], None]


def silent(what: str, done: int, total: int) -> None:
    """The progress of someone who does not look."""
