"""A line of the book: what happened, when, when it was noted, and which things it touched.

A line is never edited. A mistake is struck through by a later line of kind `correction` that names it.
Two clocks: `happened_at` and `noted_at`, seconds since 1970 UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

THING_KINDS = (
    "stock", "roll", "piece", "bath", "kit", "tank", "reel", "thermometer", "camera", "light",
    "scanner", "run", "parcel", "laboratory", "process", "strip",
)  # fmt: skip


class Thing(NamedTuple):
    """Something that has a life in the book: its kind and the name the user gave it."""

    kind: str
    name: str

    def __str__(self) -> str:
        return f"{self.kind}:{self.name}"

    @classmethod
    def parse(cls, text: str) -> Thing:
        """From "kind:name"; ValueError when the kind is unknown or the name empty."""
        return _parsed(text)


@lru_cache(maxsize=16384)
def _parsed(text: str) -> Thing:
    kind, colon, name = text.partition(":")
    if not colon or kind not in THING_KINDS or not name.strip():
        raise ValueError(
            f"a thing is written kind:name, kind one of {', '.join(THING_KINDS)}; found {text!r}"
        )
    return Thing(kind, name)


@dataclass(frozen=True, slots=True)
class Line:
    """One line. `id` is the writer's own (a repeat with the same id is the same line).

    id           up to 64 characters of A–Z a–z 0–9 . _ -
    kind         a name of `book.kinds.KINDS`
    version      of the kind's body; readers understand old ones
    happened_at  seconds since 1970 UTC
    noted_at     seconds since 1970 UTC
    touches      the things whose lives this line belongs to
    body         a mapping of JSON values, the fields of the kind
    """

    id: str
    kind: str
    version: int
    happened_at: float
    noted_at: float
    touches: tuple[Thing, ...]
    body: dict[str, object]
