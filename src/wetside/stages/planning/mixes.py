"""Every way to use one mix of a kit: which rolls it does, in which loads, on which days.

Theory. A mix is made on the day of its first session. Of rolls that wait at one rate, a load holds neighbours in the
order in which they become ready: swapping two that cross costs no more, due days left aside. So a table over rolls in
that order, the area left, the loads left and the places taken in the one open load holds the best use of what
remains: it gives the mix that gains most at given worths of rolls, and bounds every other, so that all mixes within a
gap of the best can be listed without trying the rest (dynamic programming with completion bounds, as in column
generation for cutting stock). The table rounds areas down to a share of the kit's and leaves due days of waiting
loads aside: its gains are never too small; what is listed is checked exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from wetside.stages.planning.loads import Mix, cost_of
from wetside.stages.planning.problem import Ints, Problem, fits

#: Parts of a kit's area the table counts in. More are slower and bound a little better.
PARTS = 320
#: Uses of mixes looked at side by side before the listing gives up.
MOST = 400_000
NEVER = -1e15
Floats = NDArray[np.float64]


class TooMany(Exception):
    """More mixes lie within the gap than are listed."""


@dataclass(frozen=True)
class Table:
    """The best use of what remains of a mix, for every mixing day of the grid, at given worths.

    worth: what doing each roll is worth (n,); price: the kit's, with what a bath on the shelf is worth elsewhere.
    """

    problem: Problem
    kit: int
    worth: Floats
    price: float
    days: Ints = field(init=False)

    def __post_init__(self) -> None:
        on_shelf = self.problem.request.kits[self.kit].on_shelf
        object.__setattr__(self, "days", np.array([0]) if on_shelf else self.problem.days)

    @cached_property
    def done(self) -> Ints:
        """Earliest day a roll is done in a mix of each day (m, n)."""
        return np.maximum(self.problem.ready, self.days[:, None])

    @cached_property
    def gain(self) -> Floats:
        """What doing a roll on that day gains before its load is paid (m, n); NEVER where it cannot be."""
        problem, kit = self.problem, self.problem.request.kits[self.kit]
        waits = problem.request.waiting_cost * (self.done - problem.ready)
        can = np.array([fits(kit, roll) for roll in problem.rolls])
        can = can & (self.done <= problem.last) & (self.done <= self.days[:, None] + kit.life_days)
        return np.where(can, self.worth - waits - problem.extra, NEVER)

    @cached_property
    def size(self) -> Ints:
        """Area of each roll in parts of the kit's, rounded down (n,)."""
        share = self.problem.area / self.problem.request.kits[self.kit].area_m2
        return np.minimum(PARTS + 1, np.floor(share * PARTS + 1e-9)).astype(np.intp)

    @cached_property
    def waiting(self) -> Floats:
        """What one roll of an open load pays until the next roll is ready (m, n)."""
        after = np.diff(self.done, axis=1, append=self.done[:, -1:])
        return self.problem.request.waiting_cost * after

    @property
    def loads(self) -> int | None:
        """Loads a mix may serve, None where there is no limit."""
        return self.problem.request.kits[self.kit].sessions

    @cached_property
    def after(self) -> list[Floats]:
        """For each roll, the best that follows it: (loads left, places taken in the open load, m, parts left)."""
        reels = self.problem.request.reels
        best = np.zeros((1 if self.loads is None else self.loads + 1, reels, len(self.days), PARTS + 1))
        best[:, 1:] = NEVER
        found = []
        for i in reversed(range(len(self.problem.rolls))):
            for taken in range(1, reels):
                best[:, taken] -= taken * self.waiting[:, i, None]
            found.append(best)
            best = self._with(i, best)
        return found[::-1]

    @cached_property
    def best_gains(self) -> Floats:
        """What the best mix of each day gains, its price paid (m,); never too small."""
        return self._with(0, self.after[0])[-1, 0, :, PARTS] - self.price

    def _with(self, i: int, after: Floats) -> Floats:
        """The same before roll i is decided: passed over, or taken."""
        best, size, gain = after.copy(), self.size[i], self.gain[:, i, None]
        if size > PARTS or gain.max() <= NEVER:
            return best
        for taken in range(after.shape[1]):
            with_it = (
                after[:, 0] if taken + 1 == after.shape[1] else np.maximum(after[:, 0], after[:, taken + 1])
            )
            with_it = with_it[..., : PARTS + 1 - size] + gain
            into = best[:, taken, :, size:]
            if taken:
                np.maximum(into, with_it, out=into)
            elif self.loads is None:
                np.maximum(into, with_it - self.problem.request.session_cost, out=into)
            else:
                np.maximum(into[1:], with_it[:-1] - self.problem.request.session_cost, out=into[1:])
        return best

    def best(self) -> list[Mix]:
        """For each mixing day whose best mix gains, that mix; not `exact` where it overfills the kit or comes late."""
        uses = self._begun(self.best_gains > 1e-7)
        for i in range(len(self.problem.rolls)):
            options = self._options(i, uses, in_order=False)
            which = np.argmax([bound for _, bound in options], axis=0)
            uses = _joined([use.only(which == n) for n, (use, _) in enumerate(options)])
        return [self._mix(uses, at) for at in range(len(uses.day))]

    def within(self, gap: float) -> list[Mix]:
        """Every mix that gains at least -gap; of one set of rolls the cheapest. TooMany where they are too many."""
        uses = self._begun(self.best_gains >= -gap)
        for i in range(len(self.problem.rolls)):
            options = self._options(i, uses, in_order=True)
            uses = _joined([use.only(bound >= self.price - gap) for use, bound in options])
            if len(uses.day) > MOST:
                raise TooMany
        return self._cheapest(uses)

    def _begun(self, wanted: NDArray[np.bool_]) -> _Uses:
        day = np.flatnonzero(wanted)
        none = np.zeros(len(day), dtype=np.intp)
        return _Uses(
            day, none + (self.loads or 0), none, none + PARTS, np.zeros(len(day)), none, none > 0,
            np.zeros((len(day), len(self.problem.rolls)), dtype=bool),
        )  # fmt: skip

    def _options(self, i: int, uses: _Uses, in_order: bool) -> list[tuple[_Uses, Floats]]:
        """Roll i passed over; taken and its load closed; taken and its load left open: each with the bound of what it may
        gain. In order, of like rolls the first are taken first, so that no set of classes is listed twice."""
        reels, session = self.problem.request.reels, self.problem.request.session_cost
        first = uses.taken == 0
        parts, loads = uses.parts - self.size[i], uses.loads - (first & (self.loads is not None))
        done, last = self.done[uses.day, i], self.problem.last[i]
        worth = uses.worth + self.gain[uses.day, i] - session * first
        like = in_order and i > 0 and self.problem.of[i] == self.problem.of[i - 1]
        can = (
            (parts >= 0)
            & (loads >= 0)
            & (self.gain[uses.day, i] > NEVER)
            & (uses.rolls[:, i - 1] if like else True)
        )
        due = np.where(first, last, np.minimum(uses.due, last))
        late = uses.late | (~first & (done > uses.due))
        rolls = uses.rolls.copy()
        rolls[:, i] = True
        taken = uses.taken + 1
        ways = [
            (uses, np.ones(len(first), dtype=bool)),
            (_Uses(uses.day, loads, taken * 0, parts, worth, due, late, rolls), can),
            (_Uses(uses.day, loads, taken, parts, worth, due, late, rolls), can & (taken < reels)),
        ]
        return [self._bounded(i, use, allowed) for use, allowed in ways]

    def _bounded(self, i: int, use: _Uses, allowed: NDArray[np.bool_]) -> tuple[_Uses, Floats]:
        at = tuple(np.where(allowed, index, 0) for index in (use.loads, use.taken, use.day, use.parts))
        bound = np.where(allowed, use.worth + self.after[i][at], 2 * NEVER)
        return use.waited(use.taken * self.waiting[use.day, i]), bound

    def _mix(self, uses: _Uses, at: int) -> Mix:
        problem, kit = self.problem, self.problem.request.kits[self.kit]
        rolls = tuple(int(i) for i in np.flatnonzero(uses.rolls[at]))
        fits_in = bool(problem.area[list(rolls)].sum() <= kit.area_m2 * (1 + 1e-12))
        cost = float(self.worth[list(rolls)].sum() - uses.worth[at] + kit.price)
        return Mix(self.kit, int(self.days[uses.day[at]]), rolls, cost, fits_in and not uses.late[at])

    def _cheapest(self, uses: _Uses) -> list[Mix]:
        """Of each set of rolls that fits in the mix the cheapest use, due days kept."""
        kit = self.problem.request.kits[self.kit]
        area = uses.rolls @ self.problem.area
        cost = uses.rolls @ self.worth - uses.worth + kit.price
        fits_in = np.flatnonzero((area > 0) & (area <= kit.area_m2 * (1 + 1e-12)))
        found: dict[bytes, Mix] = {}
        packed = np.packbits(uses.rolls, axis=1)
        for at in fits_in[np.argsort(cost[fits_in], kind="stable")]:
            key = packed[at].tobytes()
            if key in found and found[key].cost <= cost[at] + 1e-9:
                continue
            mix = self._mix(uses, at)
            if not mix.exact:
                true = cost_of(self.problem, mix)
                mix = Mix(mix.kit, mix.day, mix.rolls, true, np.isfinite(true))
            if mix.exact and (key not in found or mix.cost < found[key].cost):
                found[key] = mix
        return list(found.values())


class _Uses(NamedTuple):
    """Uses of mixes decided so far, side by side (u,): mixing day, loads and parts left, places taken in the open load and
    its first due day, what they are worth, whether a load came late, the rolls (u, n)."""

    day: Ints
    loads: Ints
    taken: Ints
    parts: Ints
    worth: Floats
    due: Ints
    late: NDArray[np.bool_]
    rolls: NDArray[np.bool_]

    def only(self, wanted: NDArray[np.bool_]) -> _Uses:
        """Those wanted."""
        parts: list[Any] = [part[wanted] for part in self]
        return _Uses(*parts)

    def waited(self, cost: Floats) -> _Uses:
        """The same, a wait paid."""
        return self._replace(worth=self.worth - cost)


def _joined(parts: list[_Uses]) -> _Uses:
    joined: list[Any] = [np.concatenate(same) for same in zip(*parts)]
    return _Uses(*joined)
