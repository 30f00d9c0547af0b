"""Parcels to laboratories: which rolls of each day gain most at given worths, and which could be in the best plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wetside.laws.economy.costs import laboratory_price
from wetside.stages.planning.problem import Problem, takes

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Parcel:
    """One parcel: laboratory, day of posting, rolls, its whole cost, work, post and waiting."""

    lab: int
    day: int
    rolls: tuple[int, ...]
    cost: float


def price_in(problem: Problem, lab: int) -> Floats:
    """What each roll costs in a parcel of each day, work and waiting, inf where it cannot go (m, n)."""
    there, days = problem.request.labs[lab], problem.days[:, None]
    can = np.array([takes(there, roll) for roll in problem.rolls]) & (problem.ready <= days)
    can = can & (days + there.days <= problem.last)
    work = np.array([laboratory_price(there, roll.length_mm) for roll in problem.rolls])
    waits = problem.request.waiting_cost * (days + there.days - problem.ready)
    return np.where(can, work + waits, np.inf)


def best_parcels(problem: Problem, lab: int, price: Floats, worth: Floats) -> list[Parcel]:
    """For each day whose best parcel gains, that parcel: the rolls that gain most, as many as it holds."""
    there, gain = problem.request.labs[lab], worth - price
    found = []
    for m in np.flatnonzero(_most(gain, there.parcel_rolls) > there.per_parcel + 1e-7):
        best = np.sort(np.argsort(-gain[m], kind="stable")[: there.parcel_rolls])
        rolls = tuple(int(i) for i in best if gain[m, i] > 0)
        cost = there.per_parcel + float(price[m, list(rolls)].sum())
        found.append(Parcel(lab, int(problem.days[m]), rolls, cost))
    return found


def within(problem: Problem, lab: int, price: Floats, worth: Floats, gap: float) -> NDArray[np.bool_]:
    """Which rolls may lie in a parcel of each day that gains at least -gap (m, n)."""
    there, gain = problem.request.labs[lab], worth - price
    beside = _most(gain, there.parcel_rolls - 1)[:, None]
    return np.isfinite(price) & (gain + beside >= there.per_parcel - gap)


def _most(gain: Floats, holds: int) -> Floats:
    """The most that so many rolls gain together (m,)."""
    gains = -np.sort(-np.maximum(gain, 0.0), axis=1)
    return np.asarray(gains[:, : max(0, holds)].sum(axis=1))
