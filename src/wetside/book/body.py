"""What all kinds of line have in common: a name, a version, the things they touch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from wetside.book.line import Thing


@dataclass(frozen=True, kw_only=True)
class Body:
    """Base of all kinds. `kind` and `version` are written into the line."""

    kind: ClassVar[str] = ""
    version: ClassVar[int] = 1

    def touches(self) -> tuple[Thing, ...]:
        return ()


def things(**named: str | None) -> tuple[Thing, ...]:
    """Things from keyword pairs kind=name, empty names left out."""
    return tuple(Thing(kind, name) for kind, name in named.items() if name)
