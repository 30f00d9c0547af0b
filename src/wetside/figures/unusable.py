"""The exception that ends a call: alone in its module, so that a command line that only asks for help loads nothing else."""

from __future__ import annotations


class Unusable(Exception):
    """The call or an input cannot be used. `what` is one line: what, where, expected, found, nearest allowed."""

    def __init__(self, what: str, where: str = "") -> None:
        super().__init__(what)
        self.what = " ".join(what.split())
        self.where = where

    def as_json(self) -> dict[str, object]:
        return {"schema": "wetside.error/1", "what": self.what, "where": self.where}
