"""The plan as one mixed-integer program: the plain way, kept to check the quick one by.

Theory. All costs grow with time, so some best plan acts only on days when a roll becomes ready: anything done on a day
between could be done on the last such day before it at no more cost. Those days are therefore the whole grid, and it
is exact to the day. A kit is mixed on the day of its first session. Rolls that differ in nothing but their name form a
class, so that no search is spent on swapping them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_matrix

from wetside.laws.economy.costs import Kit, laboratory_price
from wetside.stages.planning import model
from wetside.stages.planning.problem import classes_of, clipped, takes
from wetside.stages.planning.request import Request, Roll


@dataclass(frozen=True, slots=True)
class Way(model.Way):
    """A way with what it costs by itself."""

    cost: float = 0.0


@dataclass(frozen=True)
class Solved:
    """The best plan: ways with counts, kits mixed, sessions, parcels; its cost and the proof's bound."""

    classes: tuple[tuple[Roll, ...], ...]
    ways: tuple[tuple[Way, int], ...]
    mixes: dict[tuple[int, int], int]
    sessions: dict[tuple[int, int, int], int]
    parcels: dict[tuple[int, int], int]
    cost: float
    bound: float
    left_out: tuple[Roll, ...]


def ways_of(request: Request, classes: Sequence[Sequence[Roll]], days: Sequence[int]) -> list[Way]:
    """Every way each class can go, on days of a grid, and be back by its due day and the horizon."""
    found = []
    for index, group in enumerate(classes):
        roll = group[0]
        last = request.horizon if roll.due is None else min(request.horizon, roll.due)
        for day in sorted({roll.ready} | {d for d in days if roll.ready <= d <= last}):
            found += _home(request, index, roll, day, days)
            found += _away(request, index, roll, day, last)
    return found


def _home(request: Request, index: int, roll: Roll, day: int, days: Sequence[int]) -> list[Way]:
    extra = request.clip_cost if clipped(roll, request) else 0.0
    cost = request.waiting_cost * (day - roll.ready) + (extra or 0.0)
    return [
        Way(index, day, day, kit=k, mixed=mixed, cost=cost)
        for k, kit in enumerate(request.kits)
        if kit.process == roll.process and roll.area <= kit.area_m2
        for mixed in ([0] if kit.on_shelf else days)
        if mixed <= day <= mixed + kit.life_days
    ]


def _away(request: Request, index: int, roll: Roll, day: int, last: int) -> list[Way]:
    return [
        Way(index, day, day + lab.days, lab=number, cost=laboratory_price(lab, roll.length_mm) + request.waiting_cost * (day + lab.days - roll.ready))
        for number, lab in enumerate(request.labs)
        if takes(lab, roll) and day + lab.days <= last
    ]  # fmt: skip


def solved(request: Request, seconds: float = 60.0) -> Solved:
    """The cheapest plan, with HiGHS's bound; rolls that no way can serve in time are left out and named."""
    classes = classes_of(request.rolls)
    ways = ways_of(request, classes, sorted({group[0].ready for group in classes} | {0}))
    served = {way.of for way in ways}
    left_out = tuple(roll for i, group in enumerate(classes) if i not in served for roll in group)
    if not ways:
        return Solved(classes, (), {}, {}, {}, 0.0, 0.0, left_out)
    return _Program(request, classes, ways).solve(seconds, left_out, served)


def least(request: Request, classes: Sequence[Sequence[Roll]]) -> float:
    """A bound on all plans: parts of kits and parcels allowed."""
    ways = ways_of(request, classes, sorted({group[0].ready for group in classes} | {0}))
    return (
        _Program(request, tuple(map(tuple, classes)), ways)
        .solve(60.0, (), {way.of for way in ways}, False)
        .bound
    )


class _Program:
    """Variables: counts of ways, mixes (kit, day), sessions (kit, mixed, day), parcels (lab, day)."""

    def __init__(self, request: Request, classes: tuple[tuple[Roll, ...], ...], ways: list[Way]) -> None:
        self.request, self.classes, self.ways = request, classes, ways
        home = [way for way in ways if way.kit is not None]
        self.mixes = sorted({(w.kit, w.mixed) for w in home})  # type: ignore[type-var]
        self.sessions = sorted({(w.kit, w.mixed, w.day) for w in home})  # type: ignore[type-var]
        self.parcels = sorted({(w.lab, w.day) for w in ways if w.lab is not None})  # type: ignore[type-var]
        self.entries: list[tuple[int, int, float]] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def row(self, terms: list[tuple[int, float]], low: float, high: float) -> None:
        """One linear constraint."""
        number = len(self.low)
        self.entries += [(number, column, value) for column, value in terms]
        self.low.append(low)
        self.high.append(high)

    def solve(
        self, seconds: float, left_out: tuple[Roll, ...], served: set[int], whole: bool = True
    ) -> Solved:
        """Build, solve, read back; with parts of kits and parcels allowed only the bound."""
        request, ways = self.request, self.ways
        first_mix = len(ways)
        first_session = first_mix + len(self.mixes)
        first_parcel = first_session + len(self.sessions)
        count = first_parcel + len(self.parcels)
        mix_at = {key: first_mix + i for i, key in enumerate(self.mixes)}
        session_at = {key: first_session + i for i, key in enumerate(self.sessions)}
        parcel_at = {key: first_parcel + i for i, key in enumerate(self.parcels)}
        for index in served:
            self.row(
                [(i, 1.0) for i, w in enumerate(ways) if w.of == index],
                len(self.classes[index]),
                len(self.classes[index]),
            )
        self._capacities(mix_at, session_at, parcel_at)
        cost = np.array(
            [way.cost for way in ways] + [request.kits[k].price for k, _ in self.mixes]
            + [request.session_cost for _ in self.sessions] + [request.labs[lab].per_parcel for lab, _ in self.parcels]
        )  # fmt: skip
        upper = np.array(
            [float(len(self.classes[w.of])) for w in ways]
            + [1.0 if request.kits[k].on_shelf else float(len(request.rolls)) for k, _ in self.mixes]
            + [float(len(request.rolls))] * (len(self.sessions) + len(self.parcels))
        )  # fmt: skip
        rows, columns, values = zip(*self.entries)
        matrix = coo_matrix((values, (rows, columns)), shape=(len(self.low), count)).tocsc()
        limits = LinearConstraint(matrix, np.array(self.low), np.array(self.high))
        found = milp(
            cost, integrality=np.full(count, int(whole)), bounds=Bounds(0, upper), constraints=limits,
            options={"time_limit": seconds, "mip_rel_gap": 0.0},
        )  # fmt: skip
        if not whole:
            return Solved(self.classes, (), {}, {}, {}, 0.0, float(found.fun), left_out)
        x = np.round(found.x).astype(int)
        total = float(cost @ x)
        bound = float(found.mip_dual_bound if found.mip_dual_bound is not None else total)
        if abs(total - bound) <= 1e-6 * max(1.0, abs(total)):
            bound = total
        return Solved(
            self.classes, tuple((w, int(n)) for w, n in zip(ways, x[: len(ways)]) if n),
            {key: int(x[at]) for key, at in mix_at.items() if x[at]},
            {key: int(x[at]) for key, at in session_at.items() if x[at]},
            {key: int(x[at]) for key, at in parcel_at.items() if x[at]},
            total, min(bound, total), left_out,
        )  # fmt: skip

    def _capacities(self, mix_at: dict, session_at: dict, parcel_at: dict) -> None:
        request = self.request
        of_mix: dict[object, list[tuple[int, float]]] = {}
        of_session: dict[object, list[tuple[int, float]]] = {}
        of_parcel: dict[object, list[tuple[int, float]]] = {}
        for i, way in enumerate(self.ways):
            if way.lab is not None:
                of_parcel.setdefault((way.lab, way.day), []).append((i, 1.0))
                continue
            of_mix.setdefault((way.kit, way.mixed), []).append((i, self.classes[way.of][0].area))
            of_session.setdefault((way.kit, way.mixed, way.day), []).append((i, 1.0))
        for key, terms in of_mix.items():
            kit: Kit = request.kits[key[0]]  # type: ignore[index]
            self.row([*terms, (mix_at[key], -kit.area_m2)], -np.inf, 1e-9)
            if kit.sessions is not None:
                own = [(at, 1.0) for s, at in session_at.items() if s[:2] == key]
                self.row([*own, (mix_at[key], -float(kit.sessions))], -np.inf, 0.0)
            self._each([(i, 1.0) for i, _ in terms], mix_at[key])
        for key, terms in of_session.items():
            self.row([*terms, (session_at[key], -float(request.reels))], -np.inf, 0.0)
            self._each(terms, session_at[key])
        for key, terms in of_parcel.items():
            self.row([*terms, (parcel_at[key], -float(request.labs[key[0]].parcel_rolls))], -np.inf, 0.0)  # type: ignore[index]
            self._each(terms, parcel_at[key])

    def _each(self, terms: list[tuple[int, float]], shared: int) -> None:
        """A roll that stands alone goes only where what it shares is there: tighter than the sum of all rolls."""
        for i, _ in terms:
            if len(self.classes[self.ways[i].of]) == 1:
                self.row([(i, 1.0), (shared, -1.0)], -np.inf, 0.0)
