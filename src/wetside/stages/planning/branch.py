"""Branch and bound over a program of mixes: two rolls share a mix or they do not, a roll is done at home or posted.

Theory. Choosing single mixes splits a search badly: leaving one out changes nothing, since many like it remain. Whether
two rolls share a mix splits it evenly, and a plan in parts whose pairs are all decided is whole (the pair branching of
Ryan and Foster for set partitioning).
"""

from __future__ import annotations

import heapq
import itertools
import time

import numpy as np
from numpy.typing import NDArray

from wetside.stages.planning.program import Floats, Program
from wetside.stages.planning.whole import SLACK, Whole, in_parts, solved_whole, whole_of

Bools = NDArray[np.bool_]
#: Shares closer than this to none or all count as decided.
DECIDED = 0.01
#: What a variable may cost beyond its worth to be there when a half is begun.
BEGIN = 0.2


def branched(program: Program, target: float, until: float) -> tuple[Whole | None, float]:
    """The cheapest plan that costs no more than `target`, None where none was found; and a bound on such plans' cost, inf
    where there is none."""
    return _Search(program, target, until).run()


class _Search:
    """Parts of the program still to be looked at, by their bound; along each the likelier half first."""

    def __init__(self, program: Program, target: float, until: float) -> None:
        self.program, self.target, self.until = program, target, until
        self.held = program.every[:, : len(program.columns)].toarray() > 0
        self.single = program.sizes == 1
        self.posted = np.array([of for *_, of in program.posted], dtype=np.intp)
        self.best: Whole | None = None
        self.waiting: list[tuple[float, int, Bools, Bools]] = []
        self.order = itertools.count()

    def run(self) -> tuple[Whole | None, float]:
        """Look at parts until none can hold a cheaper plan."""
        everything = np.ones(len(self.program.cost), dtype=bool)
        self._keep(-np.inf, everything, everything)
        while self.waiting:
            bound, _, part, work = heapq.heappop(self.waiting)
            while bound < self._enough:
                if time.perf_counter() > self.until:
                    self._keep(bound, part, work)
                    return self.best, min(one[0] for one in self.waiting)
                bound, part, work = self._likelier(part, work)
        return self.best, np.inf if self.best is None else self.best.cost

    @property
    def _enough(self) -> float:
        """From here on a part is of no use."""
        return self.target + SLACK if self.best is None else self.best.cost - SLACK

    def _keep(self, bound: float, part: Bools, work: Bools) -> None:
        heapq.heappush(self.waiting, (bound, next(self.order), part, work))

    def _likelier(self, part: Bools, work: Bools) -> tuple[float, Bools, Bools]:
        """A part's bound and its likelier half, the other half kept; inf where nothing is left to look at."""
        found = in_parts(self.program, part, work)
        if found is None or found.cost >= self._enough:
            return np.inf, part, work
        part = part & ((found.rest <= self._enough - found.cost) | (found.x > SLACK))
        work = part & ((found.rest < BEGIN) | (found.x > SLACK))
        halves = self._halves(part, found.x)
        if halves is None:
            self._take(part, found.x)
            return np.inf, part, work
        self._keep(found.cost, halves[1], work)
        return found.cost, halves[0], work

    def _take(self, part: Bools, x: Floats) -> None:
        """A plan whose mixes are whole."""
        if np.all(np.abs(x - np.round(x)) < SLACK):
            whole: Whole | None = whole_of(self.program, x)
        else:
            whole, _ = solved_whole(self.program.only(part), self.until)
        if whole and whole.cost < self._enough:
            self.best = whole

    def _halves(self, part: Bools, x: Floats) -> tuple[Bools, Bools] | None:
        """The part split where its plan is undecided, the likelier half first; None where it is decided."""
        k = len(self.program.columns)
        used = np.flatnonzero(x[:k] > SLACK)
        held = self.held[:, used].astype(float)
        home = np.where(self.single, held @ x[used], 0.0)
        i = int(np.argmax(home * (1 - home)))
        if DECIDED < home[i] < 1 - DECIDED:
            mixed, posted = part.copy(), part.copy()
            mixed[len(part) - len(self.posted) :] &= self.posted != i
            posted[:k] &= ~self.held[i]
            return (mixed, posted) if home[i] > 0.5 else (posted, mixed)
        share = np.triu((held * x[used]) @ held.T, 1) * self.single * self.single[:, None]
        i, j = divmod(int(np.argmax(share * (1 - share))), len(share))
        if not DECIDED < share[i, j] < 1 - DECIDED:
            return None
        together, apart = part.copy(), part.copy()
        together[:k] &= self.held[i] == self.held[j]
        apart[:k] &= ~(self.held[i] & self.held[j])
        return (together, apart) if share[i, j] > 0.3 else (apart, together)
