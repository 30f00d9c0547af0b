"""The line of a plan that was kept: what was asked, and what was to be done on which day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from wetside.book.body import Body
from wetside.book.line import Thing


@dataclass(frozen=True, kw_only=True)
class Planned(Body):
    """A plan as the person kept it. `request` has the shape of `wetside schema plan-input`; `actions` as in `wetside.plan/1`."""

    kind: ClassVar[str] = "plan"
    request: dict[str, object]
    actions: tuple[dict[str, object], ...] = ()
    cost: float | None = None
    bound: float | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        named = {str(name): None for one in self.actions for name in _names(one.get("rolls"))}
        return tuple(Thing("roll", name) for name in named)


def _names(rolls: object) -> list[object]:
    return list(rolls) if isinstance(rolls, list | tuple) else []
