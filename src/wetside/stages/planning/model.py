"""The cheapest plan and the proof that none is cheaper."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wetside.laws.economy.costs import laboratory_price
from wetside.stages.planning.loads import Mix, loads_of
from wetside.stages.planning.parcels import Parcel
from wetside.stages.planning.problem import Classes, Problem, fits, problem_of, takes
from wetside.stages.planning.relaxed import Column, Left
from wetside.stages.planning.request import Request, Roll
from wetside.stages.planning.search import cheapest_columns


@dataclass(frozen=True, slots=True)
class Way:
    """One way for one roll of a class: at home with a mix (kit, mixed on a day) on a day, or in a parcel on a day."""

    of: int
    day: int
    done: int
    kit: int | None = None
    mixed: int | None = None
    lab: int | None = None


@dataclass(frozen=True)
class Solved:
    """The best plan: ways with counts, kits mixed (kit, day), its cost and the proof's bound, rolls that nothing serves."""

    classes: Classes
    ways: tuple[tuple[Way, int], ...]
    mixes: dict[tuple[int, int], int]
    cost: float
    bound: float
    left_out: tuple[Roll, ...]


def solved(request: Request, seconds: float = 9.0) -> Solved:
    """The cheapest plan with its bound, proved where they are equal; rolls that no way can serve in time are named."""
    problem, left_out = problem_of(request)
    if not problem.rolls:
        return Solved((), (), {}, 0.0, 0.0, left_out)
    columns, bound = cheapest_columns(problem, time.perf_counter() + seconds)
    left = [one for one in columns if isinstance(one, Left)]
    done = [one for one in columns if not isinstance(one, Left)]
    undone = tuple(problem.rolls[i] for one in left for i in one.rolls)
    cost, bound = sum(one.cost for one in done), bound - sum(one.cost for one in left)
    bound = max(bound, 0.0 if left else sum_of_shares(problem))
    proved = bound >= cost - 1e-6 * max(1.0, cost)
    mixes = Counter((one.kit, one.day) for one in done if isinstance(one, Mix))
    return Solved(
        problem.classes, _ways(problem, done), dict(mixes), cost, cost if proved else bound, left_out + undone
    )


def _ways(problem: Problem, columns: Sequence[Column]) -> tuple[tuple[Way, int], ...]:
    """How many rolls of each class go which way, earliest first."""
    ways = Counter[Way]()
    for one in columns:
        if isinstance(one, Parcel):
            back = one.day + problem.request.labs[one.lab].days
            ways.update(Way(int(problem.of[i]), one.day, back, lab=one.lab) for i in one.rolls)
        elif isinstance(one, Mix):
            for day, rolls in loads_of(problem, one) or ():
                ways.update(Way(int(problem.of[i]), day, day, kit=one.kit, mixed=one.day) for i in rolls)
    return tuple(sorted(ways.items(), key=lambda way: (way[0].day, way[0].of)))


def sum_of_shares(problem: Problem) -> float:
    """A bound that takes no search: every roll by the way whose share of kit, load and parcel is cheapest.

    Valid since what is shared never holds more than its area, reels or rolls, so its price is at least the sum of
    shares. Rolls that only a bath on the shelf may do count for nothing.
    """
    request, total = problem.request, 0.0
    for i, roll in enumerate(problem.rolls):
        home = [
            kit.price * roll.area / kit.area_m2
            + request.session_cost / request.reels
            + float(problem.extra[i])
            for kit in request.kits
            if fits(kit, roll) and roll.ready <= problem.last[i]
        ]
        away = [
            lab.per_parcel / lab.parcel_rolls
            + laboratory_price(lab, roll.length_mm)
            + request.waiting_cost * lab.days
            for lab in request.labs
            if takes(lab, roll)
        ]
        total += min([*home, *away], default=0.0)
    return float(np.round(total, 9))
