"""What every roll is worth at least: the plan with parts of mixes and parcels allowed, by column generation.

The plan chooses whole mixes and parcels so that every roll lies in one. With parts of them allowed that is a linear
program of more columns than can be written down; those that would gain at the present worths of the rolls are found
by `mixes` and `parcels`, until none does. Its value is a bound, and a tight one: area, loads and sessions of a mix are
never parted.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import csc_matrix, vstack

from wetside.laws.economy.costs import laboratory_price
from wetside.stages.planning.loads import Mix, cost_of
from wetside.stages.planning.mixes import Table
from wetside.stages.planning.parcels import Parcel, best_parcels, price_in
from wetside.stages.planning.problem import Problem, fits, takes

Floats = NDArray[np.float64]
#: What leaving a roll out counts, so that as few as can be are.
LEFT = 1e5
#: How far the worths that are asked for columns lie from the program's towards those asked before: fewer rounds.
STEADY = 0.5


@dataclass(frozen=True, slots=True)
class Left:
    """A roll that nothing but baths on the shelf could do, left undone."""

    rolls: tuple[int, ...]
    day: int = 0
    cost: float = LEFT


Column = Mix | Parcel | Left


@dataclass(frozen=True)
class Relaxed:
    """Worths at which no column gains: of each roll (n,) and bath on the shelf; the bound they give, None where time ran out
    before there was one; the columns met, and how much of each the plan in parts uses (k,)."""

    worth: Floats
    baths: dict[int, float]
    bound: float | None
    columns: list[Column]
    shares: Floats

    def table(self, problem: Problem, kit: int) -> Table:
        """The best uses of a kit's mixes at these worths."""
        price = problem.request.kits[kit].price + self.baths.get(kit, 0.0)
        return Table(problem, kit, self.worth, price)


def relaxed(problem: Problem, until: float) -> Relaxed:
    """The relaxed plan: rounds of columns until none gains or the time is up (`until` as of time.perf_counter)."""
    columns, steady = alone(problem), None
    prices = [price_in(problem, lab) for lab in range(len(problem.request.labs))]
    known = {_key(problem, column) for column in columns}
    while True:
        at = _worths(problem, columns)
        asked = at if steady is None else replace(at, worth=STEADY * steady + (1 - STEADY) * at.worth)
        found = _gaining(problem, asked, prices, known)
        if not found and steady is not None:
            asked, found = at, _gaining(problem, at, prices, known)
        if not found:
            return at
        if time.perf_counter() > until:
            return replace(at, bound=None)
        steady, columns = asked.worth, [*columns, *found]


def counts(problem: Problem, columns: Sequence[Column]) -> csc_matrix:
    """How many rolls of each class each column holds (c, k)."""
    rows = [problem.of[i] for column in columns for i in column.rolls]
    at = [k for k, column in enumerate(columns) for _ in column.rolls]
    return csc_matrix((np.ones(len(rows)), (rows, at)), shape=(len(problem.classes), len(columns)))


def shelf(problem: Problem, columns: Sequence[Column]) -> tuple[list[int], csc_matrix]:
    """The baths on the shelf, and which columns use which (b, k): each is there once."""
    baths = [k for k, kit in enumerate(problem.request.kits) if kit.on_shelf]
    uses = [[isinstance(one, Mix) and one.kit == bath for one in columns] for bath in baths]
    return baths, csc_matrix(np.array(uses, dtype=float).reshape(len(baths), len(columns)))


def _worths(problem: Problem, columns: list[Column]) -> Relaxed:
    """The program of the columns so far, solved in parts."""
    baths, uses = shelf(problem, columns)
    cost, c = np.array([column.cost for column in columns]), len(problem.classes)
    rows = vstack([-counts(problem, columns), uses]).tocsc()
    limits = np.concatenate([-problem.sizes.astype(float), np.ones(len(baths))])
    found = linprog(cost, A_ub=rows, b_ub=limits, method="highs")
    dual = -found.ineqlin.marginals
    return Relaxed(dual[:c][problem.of], dict(zip(baths, dual[c:])), float(found.fun), columns, found.x)


def _gaining(problem: Problem, at: Relaxed, prices: list[Floats], known: set[Column]) -> list[Column]:
    """Columns not met before that gain at these worths, the best of each kit, laboratory and day."""
    found: list[Column] = []
    for kit in range(len(problem.request.kits)):
        found += at.table(problem, kit).best()
    for lab, price in enumerate(prices):
        found += best_parcels(problem, lab, price, at.worth)
    new = {key: column for column in found if (key := _key(problem, column)) not in known}
    known.update(new)
    return list(new.values())


def _key(problem: Problem, column: Column) -> Column:
    """What a column is met by again: itself, but by the classes of its rolls and with its cost to six places."""
    return replace(column, rolls=tuple(int(problem.of[i]) for i in column.rolls), cost=round(column.cost, 6))


def alone(problem: Problem) -> list[Column]:
    """Every roll by itself, every way: a plan, if a dear one."""
    found: list[Column] = []
    for i in range(len(problem.rolls)):
        mixed, posted = _mixed_alone(problem, i), _posted_alone(problem, i)
        found += [*mixed, *posted]
        if not posted and all(problem.request.kits[mix.kit].on_shelf for mix in mixed):
            found.append(Left((i,)))
    return found


def _mixed_alone(problem: Problem, i: int) -> list[Mix]:
    found = []
    for k, kit in enumerate(problem.request.kits):
        mix = Mix(k, 0 if kit.on_shelf else int(problem.ready[i]), (i,), 0.0)
        if fits(kit, problem.rolls[i]) and np.isfinite(cost := cost_of(problem, mix)):
            found.append(replace(mix, cost=cost))
    return found


def _posted_alone(problem: Problem, i: int) -> list[Parcel]:
    found, day, roll = [], int(problem.ready[i]), problem.rolls[i]
    for n, lab in enumerate(problem.request.labs):
        if takes(lab, roll) and day + lab.days <= problem.last[i]:
            cost = lab.per_parcel + laboratory_price(lab, roll.length_mm)
            found.append(Parcel(n, day, (i,), cost + problem.request.waiting_cost * lab.days))
    return found
