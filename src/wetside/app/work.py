"""Something long that a page asked for, and how far it is."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import Any


@dataclass
class Work:
    """Something long that is being done, and how far it is."""

    what: str
    began: float
    done: int = 0
    total: int = 0
    slip: str = ""
    said: str = ""
    ended: bool = False

    def progress(self, what: str, done: int, total: int) -> None:
        """A progress function."""
        if what != self.what:
            self.what, self.began = what, time.monotonic()
        self.done, self.total = done, total

    def as_json(self) -> dict[str, Any]:
        """How far it is, with the seconds left by the pace so far."""
        spent = time.monotonic() - self.began
        left = spent / self.done * (self.total - self.done) if self.done and not self.ended else None
        return {
            "what": self.what, "done": self.done, "total": self.total, "left_s": left, "slip": self.slip,
            "said": self.said, "ended": self.ended,
        }  # fmt: skip
