"""A user's slip or a file's defect is data, not an exception.

`Finding` reports and the work goes on; `Unusable` ends a call (exit 2, HTTP 4xx) in one line;
`CannotSay` is an ordinary answer, with what would help.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["note", "warning", "error"]


@dataclass(frozen=True, slots=True)
class Finding:
    """What was expected, what was found, and where."""

    id: str
    severity: Severity
    where: str
    say: str
    expected: str = ""
    found: str = ""
    source: str = ""

    def as_json(self) -> dict[str, object]:
        return asdict(self)


@dataclass(frozen=True, slots=True)
class CannotSay:
    """An answer that is not there yet: the reason, and what one more thing would add."""

    reason: str
    would_help: str

    def as_json(self) -> dict[str, object]:
        return {"cannot_say": self.reason, "would_help": self.would_help}


class Unusable(Exception):
    """The call or an input cannot be used. `what` is one line: what, where, expected, found, nearest allowed."""

    def __init__(self, what: str, where: str = "") -> None:
        super().__init__(what)
        self.what = " ".join(what.split())
        self.where = where

    def as_json(self) -> dict[str, object]:
        return {"schema": "wetside.error/1", "what": self.what, "where": self.where}
