"""The request as arrays: rolls earliest first, the days on which something may be done.

Theory. All costs grow with time, so some best plan acts only on days when a roll becomes ready: anything done on a day
between could be done on the last such day before it at no more cost. Those days are therefore the whole grid, and it
is exact to the day. Rolls that differ in nothing but their name form a class, so that no search is spent on swapping
them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetside.laws.economy.costs import Kit, Laboratory
from wetside.stages.planning.request import Request, Roll

#: Chance that a run with chemistry not tried on this stock spoils the roll. Common practice; only "clip first" uses it.
SPOILS = 0.05
Classes = tuple[tuple[Roll, ...], ...]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Problem:
    """Rolls that some way serves, earliest first and like ones side by side, and what each costs wherever it goes.

    ready, last: first and last day of a roll (n,), area: m² (n,), extra: its clip (n,), of: its class (n,),
    days: the grid (m,).
    """

    request: Request
    classes: Classes
    rolls: tuple[Roll, ...]
    of: Ints
    ready: Ints
    last: Ints
    area: NDArray[np.float64]
    extra: NDArray[np.float64]
    days: Ints

    @property
    def sizes(self) -> Ints:
        """How many rolls each class holds."""
        return np.array([len(group) for group in self.classes])


def problem_of(request: Request) -> tuple[Problem, tuple[Roll, ...]]:
    """The problem, and the rolls that no way can serve in time."""
    groups = sorted(classes_of(request.rolls), key=lambda group: group[0].ready)
    served = tuple(group for group in groups if _served(request, group[0]))
    rolls = tuple(roll for group in served for roll in group)
    problem = Problem(
        request, served, rolls,
        np.array([i for i, group in enumerate(served) for _ in group], dtype=np.intp),
        np.array([roll.ready for roll in rolls], dtype=np.intp),
        np.array([last_of(request, roll) for roll in rolls], dtype=np.intp),
        np.array([roll.area for roll in rolls]),
        np.array([(request.clip_cost or 0.0) if clipped(roll, request) else 0.0 for roll in rolls]),
        np.array(sorted({0} | {roll.ready for roll in rolls}), dtype=np.intp),
    )  # fmt: skip
    return problem, tuple(roll for group in groups if group not in served for roll in group)


def classes_of(rolls: Sequence[Roll]) -> Classes:
    """Rolls grouped by everything but their name, first come first."""
    groups: dict[tuple[object, ...], list[Roll]] = {}
    for roll in rolls:
        key = (roll.gauge, roll.length_mm, roll.process, roll.backing, roll.ready, roll.due, roll.worth)
        groups.setdefault(key, []).append(roll)
    return tuple(tuple(group) for group in groups.values())


def last_of(request: Request, roll: Roll) -> int:
    """The day on which a roll must be back at the latest."""
    return request.horizon if roll.due is None else min(request.horizon, roll.due)


def clipped(roll: Roll, request: Request) -> bool:
    """Whether a clip is worth its cost before this roll is processed at home."""
    return request.clip_cost is not None and SPOILS * roll.worth > request.clip_cost


def fits(kit: Kit, roll: Roll) -> bool:
    """Whether a mix of a kit can do a roll at all."""
    return kit.process == roll.process and roll.area <= kit.area_m2


def takes(lab: Laboratory, roll: Roll) -> bool:
    """Whether a laboratory takes a roll at all."""
    return (
        roll.gauge in lab.gauges and roll.process in lab.processes and (lab.takes_backing or not roll.backing)
    )


def _served(request: Request, roll: Roll) -> bool:
    last = last_of(request, roll)
    home = any(fits(kit, roll) and (not kit.on_shelf or roll.ready <= kit.life_days) for kit in request.kits)
    away = any(takes(lab, roll) and roll.ready + lab.days <= last for lab in request.labs)
    return (home and roll.ready <= last) or away
