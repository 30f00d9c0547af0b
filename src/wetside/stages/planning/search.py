"""From the relaxed plan to the cheapest whole one: a plan to begin with, parts of it made better, gaps closed.

The bound comes first (`relaxed`). A first plan is made of what was met on the way. Its neighbours in time are then
planned anew a few at once, which are small requests and soon proved. Last, what lies within ever wider gaps of the
bound is searched whole, until a plan is proved or time is out.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wetside.laws.economy.costs import laboratory_price
from wetside.stages.planning.branch import branched
from wetside.stages.planning.loads import Mix, cost_of
from wetside.stages.planning.mixes import TooMany
from wetside.stages.planning.parcels import Parcel
from wetside.stages.planning.problem import Problem, problem_of
from wetside.stages.planning.program import Program, program_of
from wetside.stages.planning.relaxed import Column, Left, Relaxed, alone, relaxed
from wetside.stages.planning.whole import Whole, lifted, solved_whole

#: Shares of the time that the bound, a first plan and the plan's parts may take.
BOUND, FIRST, PARTS = 0.6, 0.08, 0.2
#: The first gap as a share of the bound, how much wider each next one is, what counts as equal.
GAP, WIDER, SAME = 0.004, 1.8, 1e-6
#: In how many first gaps parcels are looked for when a first plan is made.
ROOM = 8
#: Longest time one part is planned anew [s].
PART = 1.0
#: Mixes a program is made of at most; rolls of a plan that are planned anew together.
MANY, TOGETHER = 40_000, 12


def cheapest_columns(problem: Problem, until: float) -> tuple[list[Column], float]:
    """The cheapest plan found, every roll in one column, and a bound on all plans; `until` as of time.perf_counter."""
    seconds = until - time.perf_counter()
    at = relaxed(problem, until - (1 - BOUND) * seconds)
    if (best := _whole_already(problem, at)) and at.bound is not None:
        return best, at.bound
    best = _first(problem, at, FIRST * seconds)
    bound = 0.0 if at.bound is None else at.bound
    if _cost(best) > (1 + GAP) * bound and len(problem.rolls) > TOGETHER:
        best = _parts_made_better(problem, best, time.perf_counter() + PARTS * seconds)
    return (best, bound) if at.bound is None else _closed(problem, at, best, until)


def _whole_already(problem: Problem, at: Relaxed) -> list[Column] | None:
    """The relaxed plan where it happens to use no parts, as with few rolls it mostly does."""
    used = [(one, float(share)) for one, share in zip(at.columns, at.shares) if share > SAME]
    if any(
        abs(share - round(share)) > SAME or (isinstance(one, Mix) and not one.exact) for one, share in used
    ):
        return None
    return _plain(problem, Whole([(one, round(share)) for one, share in used], {}, at.bound or 0.0))


def _first(problem: Problem, at: Relaxed, seconds: float) -> list[Column]:
    """The better of three: what was met, put together by HiGHS; the same and its like, by pairs; every roll by itself."""
    apart = sorted(alone(problem), key=lambda one: one.cost)
    plans = [Whole([(one, 1) for one in apart], {}, np.inf)]
    met = [one for one in at.columns if not isinstance(one, Mix) or one.exact]
    gap = GAP * (at.bound or 0.0)
    like = [*_near(problem, at, gap), *(one for one in met if not isinstance(one, Parcel))]
    for first in (
        lambda until: solved_whole(program_of(problem, at, met, None), until),
        lambda until: branched(program_of(problem, at, like, ROOM * gap), np.inf, until),
    ):
        whole, _ = first(time.perf_counter() + seconds)
        plans += [whole] if whole else []
    return min((_plain(problem, whole) for whole in plans), key=_cost)


def _near(problem: Problem, at: Relaxed, gap: float) -> list[Mix]:
    """The mixes within a gap of the bound. Raises TooMany."""
    return [
        mix for kit in range(len(problem.request.kits)) for mix in at.table(problem, kit).within(gap + SAME)
    ]


def _cost(columns: Sequence[Column]) -> float:
    return sum(one.cost for one in columns)


def _plain(problem: Problem, whole: Whole) -> list[Column]:
    """The columns of a plan, each roll in the first that holds one like it."""
    free = {of: [int(i) for i in np.flatnonzero(problem.of == of)] for of in range(len(problem.classes))}
    found: list[Column] = []
    for one in (one for one, n in whole.used for _ in range(n)):
        rolls = tuple(sorted(free[int(problem.of[i])].pop(0) for i in one.rolls if free[int(problem.of[i])]))
        if rolls:
            found.append(_with_rolls(problem, one, rolls))
    sent: dict[tuple[int, int], list[int]] = {}
    for (lab, day, of), n in whole.posted.items():
        sent.setdefault((lab, day), []).extend(free[of].pop(0) for _ in range(n) if free[of])
    for (lab, day), posted in sent.items():
        holds = problem.request.labs[lab].parcel_rolls
        for first in range(0, len(posted), holds):
            rolls = tuple(sorted(posted[first : first + holds]))
            found.append(_with_rolls(problem, Parcel(lab, day, (), 0.0), rolls))
    return found


def _with_rolls(problem: Problem, one: Column, rolls: tuple[int, ...]) -> Column:
    """The same column with other rolls."""
    if isinstance(one, Mix):
        mix = replace(one, rolls=rolls)
        return replace(mix, cost=cost_of(problem, mix))
    if isinstance(one, Left):
        return Left(rolls)
    lab, wait = problem.request.labs[one.lab], problem.request.waiting_cost
    work = sum(laboratory_price(lab, problem.rolls[i].length_mm) for i in rolls)
    waits = sum(one.day + lab.days - int(problem.ready[i]) for i in rolls)
    return Parcel(one.lab, one.day, rolls, lab.per_parcel + work + wait * waits)


def _parts_made_better(problem: Problem, columns: list[Column], until: float) -> list[Column]:
    """Columns that lie near one another in time planned anew, round after round while that helps."""
    better = True
    while better:
        better = False
        columns = sorted(columns, key=lambda one: (one.day, one.rolls))
        first = 0
        while first < len(columns):
            if time.perf_counter() > until:
                return columns
            some = _together(columns, first)
            anew = _anew(problem, some, columns, until)
            if _cost(anew) < _cost(some) - SAME:
                columns, better = [one for one in columns if one not in some] + anew, True
                columns.sort(key=lambda one: (one.day, one.rolls))
            first += max(1, len(some) // 2)
    return columns


def _together(columns: Sequence[Column], first: int) -> list[Column]:
    """As many columns from one on as hold no more than so many rolls."""
    rolls = np.cumsum([len(one.rolls) for one in columns[first:]])
    return list(columns[first : first + max(1, int(np.sum(rolls <= TOGETHER)))])


def _anew(problem: Problem, some: list[Column], columns: Sequence[Column], until: float) -> list[Column]:
    """The rolls of some columns planned by themselves; baths that others use are not there."""
    request, used = problem.request, {one.kit for one in columns if isinstance(one, Mix) and one not in some}
    kits = tuple(
        replace(kit, life_days=-1) if kit.on_shelf and k in used else kit
        for k, kit in enumerate(request.kits)
    )
    mine = sorted(i for one in some for i in one.rolls)
    number = {problem.rolls[i].id: i for i in mine}
    small, _ = problem_of(replace(request, kits=kits, rolls=tuple(problem.rolls[i] for i in mine)))
    found, _ = cheapest_columns(small, min(until, time.perf_counter() + PART))
    back = [number[roll.id] for roll in small.rolls]
    return [replace(one, rolls=tuple(sorted(back[i] for i in one.rolls))) for one in found]


def _closed(problem: Problem, at: Relaxed, best: list[Column], until: float) -> tuple[list[Column], float]:
    """The best plan of all within ever wider gaps of the bound, until it is proved or time is out."""
    left = [one for one in at.columns if isinstance(one, Left)]
    bound = least = at.bound or 0.0
    gap = GAP * least
    while _cost(best) > bound + SAME and time.perf_counter() < until:
        gap = min(gap, _cost(best) - least)
        try:
            near = _near(problem, at, gap)
        except TooMany:
            break
        if len(near) > MANY:
            break
        program = program_of(problem, at, [*left, *near], gap + SAME)
        whole, lowest = _cheapest(program, least + gap, until)
        found = best if whole is None else _plain(problem, whole)
        best = found if _cost(found) < _cost(best) else best
        bound = max(bound, min(lowest, least + gap))
        gap *= WIDER
    return best, min(bound, _cost(best))


def _cheapest(program: Program, target: float, until: float) -> tuple[Whole | None, float]:
    """The cheapest plan of a program that costs no more than `target`, and a bound on such plans, inf where there is none."""
    better, bound = lifted(program, target, until)
    if better is None:
        return None, np.inf
    found, least = branched(better, target, until)
    return found, max(bound, least)
