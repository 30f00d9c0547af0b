"""Whole mixes and parcels: the cheapest plan among what lies within a gap of the bound, and its proof.

Theory. At the worths that end the relaxed program a mix that gains less than -gap cannot be in a plan that costs less
than bound + gap, nor can a roll in a parcel that gains less with it. So all others are listed and the program of these
is solved: a plan found that costs no more than bound + gap is the best there is, and where none is found every plan
costs more. Parcels are held by their rolls, since any rolls of a day can share one. The bound is lifted by subset-row
cuts: of any three rolls that are like no other, at most one mix of two or more of them can be whole.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import coo_matrix, csc_matrix, hstack, vstack

from wetside.stages.planning.parcels import price_in, within
from wetside.stages.planning.problem import Problem
from wetside.stages.planning.relaxed import Column, Relaxed, counts, shelf

Floats = NDArray[np.float64]
#: Rounds of cuts, cuts a round, and by how much one must be broken to be taken.
ROUNDS, EACH, BROKEN = 20, 60, 0.02
#: Variables a relaxed program is widened by at once.
AT_ONCE = 400
SLACK = 1e-6


@dataclass(frozen=True)
class Whole:
    """A plan of whole mixes and parcels: what is used how often, rolls posted besides (laboratory, day, class): how many, its cost."""

    used: list[tuple[Column, int]]
    posted: dict[tuple[int, int, int], int]
    cost: float


@dataclass(frozen=True)
class Program:
    """Variables are columns, then parcels (laboratory, day), then rolls posted (laboratory, day, class).

    rest: what a column costs beyond its rolls' worth (k,); every: each class's rolls (c, v); most_of: rows that may not
    pass `limits` (r, v).
    """

    columns: Sequence[Column]
    parcels: list[tuple[int, int]]
    posted: list[tuple[int, int, int]]
    cost: Floats
    most: Floats
    every: csc_matrix
    sizes: Floats
    rest: Floats
    most_of: csc_matrix
    limits: Floats
    cuts: int = 0

    def only(self, wanted: NDArray[np.bool_]) -> Program:
        """The same without the columns, parcels and rolls that are not wanted (v,)."""
        k, p = len(self.columns), len(self.parcels)
        return replace(
            self,
            columns=[one for one, keep in zip(self.columns, wanted[:k]) if keep],
            parcels=[one for one, keep in zip(self.parcels, wanted[k : k + p]) if keep],
            posted=[one for one, keep in zip(self.posted, wanted[k + p :]) if keep],
            cost=self.cost[wanted], rest=self.rest[wanted[:k]], most=self.most[wanted], every=self.every[:, wanted], most_of=self.most_of[:, wanted],
        )  # fmt: skip

    def bound_by(self, fines: Floats) -> Program:
        """The same without the cuts that cost nothing (r,)."""
        keep = (fines > SLACK) | (np.arange(len(fines)) < len(fines) - self.cuts)
        return replace(
            self,
            most_of=self.most_of[keep],
            limits=self.limits[keep],
            cuts=int(keep.sum()) - (len(fines) - self.cuts),
        )

    def cut(self, triples: NDArray[np.intp]) -> Program:
        """The same with a subset-row cut for each three classes (t, 3)."""
        held = self.every[:, : len(self.columns)].toarray() > 0
        rows = csc_matrix((held[triples].sum(axis=1) >= 2).astype(float))
        rest = csc_matrix((len(triples), len(self.cost) - len(self.columns)))
        return replace(
            self,
            most_of=vstack([self.most_of, hstack([rows, rest])]).tocsc(),
            limits=np.concatenate([self.limits, np.ones(len(triples))]),
            cuts=self.cuts + len(triples),
        )


def program_of(problem: Problem, at: Relaxed, columns: Sequence[Column], gap: float | None) -> Program:
    """The program of these columns, and of every parcel within a gap of the bound where one is given."""
    parcels, posted, price = ([], [], []) if gap is None else _posted(problem, at, gap)
    number = {parcel: i for i, parcel in enumerate(parcels)}
    v = (len(columns), len(parcels), len(posted))
    here, sizes = np.arange(len(posted)), problem.sizes.astype(float)
    of, into = (
        np.array([c for *_, c in posted], dtype=int),
        np.array([number[n, d] for n, d, _ in posted], dtype=int),
    )
    one = np.ones(len(posted))
    every = hstack(
        [
            counts(problem, columns),
            csc_matrix((len(sizes), v[1])),
            coo_matrix((one, (of, here)), shape=(len(sizes), v[2])),
        ]
    )
    holds = np.array([float(problem.request.labs[n].parcel_rolls) for n, _ in parcels])
    room = hstack(
        [
            csc_matrix((v[1], v[0])),
            -csc_matrix(np.diag(holds).reshape(v[1], v[1])),
            coo_matrix((one, (into, here)), shape=(v[1], v[2])),
        ]
    )
    lone = here[sizes[of] == 1] if len(of) else here
    row = np.arange(len(lone))
    with_it = hstack([
        csc_matrix((len(lone), v[0])), coo_matrix((-np.ones(len(lone)), (row, into[lone])), shape=(len(lone), v[1])),
        coo_matrix((np.ones(len(lone)), (row, lone)), shape=(len(lone), v[2])),
    ])  # fmt: skip
    baths, uses = shelf(problem, columns)
    once = hstack([uses, csc_matrix((len(baths), v[1] + v[2]))])
    return Program(
        columns, parcels, posted,
        np.concatenate([[one.cost for one in columns], [problem.request.labs[n].per_parcel for n, _ in parcels], price]),
        np.concatenate([[min(sizes[problem.of[i]] for i in one.rolls) for one in columns], np.full(v[1], float(len(problem.rolls))), sizes[of] if len(of) else []]),
        every.tocsc(), sizes, np.array([one.cost - at.worth[list(one.rolls)].sum() for one in columns]), vstack([room, with_it, once]).tocsc(),
        np.concatenate([np.zeros(v[1] + len(lone)), np.ones(len(baths))]),
    )  # fmt: skip


def _posted(
    problem: Problem, at: Relaxed, gap: float
) -> tuple[list[tuple[int, int]], list[tuple[int, int, int]], list[float]]:
    posted: dict[tuple[int, int, int], float] = {}
    for lab in range(len(problem.request.labs)):
        price = price_in(problem, lab)
        for m, i in zip(*np.nonzero(within(problem, lab, price, at.worth, gap))):
            posted[lab, int(problem.days[m]), int(problem.of[i])] = float(price[m, i])
    return sorted({(lab, day) for lab, day, _ in posted}), list(posted), list(posted.values())


def lifted(program: Program, target: float, until: float) -> tuple[Program | None, float]:
    """The program with cuts and without what cannot be in a plan of at most `target`, None where there is no such plan;
    and a bound on such plans' cost."""
    bound, work = -np.inf, np.ones(len(program.cost), dtype=bool)
    work[np.argsort(program.rest)[AT_ONCE:]] = False
    for _ in range(ROUNDS):
        found = in_parts(program, np.ones_like(work), work)
        if found is None or found.cost > target + SLACK:
            return None, np.inf
        bound = max(bound, found.cost)
        triples, keep = (
            _broken(program, found.x),
            (found.rest <= target - found.cost + SLACK) | (found.x > SLACK),
        )
        program, work = program.only(keep), (found.rest[keep] < SLACK) | (found.x[keep] > SLACK)
        if not len(triples) or time.perf_counter() > until:
            return program.bound_by(found.fines), bound
        program = program.cut(triples)
    return program, bound


class InParts(NamedTuple):
    """Shares of variables, what each would cost beyond its worth (v,), what the limits cost (r,), and the cost of all."""

    x: Floats
    rest: Floats
    fines: Floats
    cost: float


def in_parts(program: Program, part: NDArray[np.bool_], work: NDArray[np.bool_]) -> InParts | None:
    """The part of a program (v,) with parts of mixes and parcels allowed, begun with some of it and widened by what gains;
    None where it has no answer."""
    rows = vstack([program.most_of, -program.every]).tocsc()
    limits = np.concatenate([program.limits, -program.sizes])
    work = part & work
    while True:
        at = np.flatnonzero(work)
        bounds = np.column_stack([np.zeros(len(at)), program.most[at]])
        found = linprog(program.cost[at], A_ub=rows[:, at], b_ub=limits, bounds=bounds, method="highs")
        if found.status == 2 and (work != part).any():
            work = part
            continue
        if found.status != 0:
            return None
        rest = program.cost - rows.T @ found.ineqlin.marginals
        new = np.flatnonzero(part & ~work & (rest < -SLACK))
        if not len(new):
            x = np.zeros(len(program.cost))
            x[at] = found.x
            return InParts(x, rest, -found.ineqlin.marginals[: len(program.limits)], float(found.fun))
        work = work.copy()
        work[new[np.argsort(rest[new])[:AT_ONCE]]] = True


def _broken(program: Program, x: Floats) -> NDArray[np.intp]:
    """The threes of classes of one roll whose cut is broken most (t, 3)."""
    used = np.flatnonzero(x[: len(program.columns)] > SLACK)
    held = (program.every[:, used].toarray() > 0).astype(np.int8)
    single = np.flatnonzero((program.sizes == 1) & (held.sum(axis=1) >= 2))
    triples = np.array(list(itertools.combinations(single, 3)), dtype=np.intp).reshape(-1, 3)
    broken = (held[triples].sum(axis=1) >= 2) @ x[used] - 1
    order = np.argsort(-broken)[:EACH]
    return triples[order[broken[order] > BROKEN]]


def solved_whole(program: Program, until: float) -> tuple[Whole | None, float]:
    """HiGHS's cheapest plan, None where there is none or time ran out, and its bound: inf where there is none."""
    seconds = max(0.2, until - time.perf_counter())
    limits = [
        LinearConstraint(program.every, program.sizes, np.inf),
        LinearConstraint(program.most_of, -np.inf, program.limits),
    ]
    found = milp(
        program.cost, integrality=np.ones(len(program.cost)), bounds=Bounds(0, program.most), constraints=limits,
        options={"time_limit": seconds, "mip_rel_gap": 0.0},
    )  # fmt: skip
    if found.x is None:
        return None, np.inf if found.status == 2 else -np.inf
    bound = float(found.mip_dual_bound) if found.mip_dual_bound is not None else -np.inf
    return whole_of(program, found.x), bound


def whole_of(program: Program, shares: Floats) -> Whole:
    """The plan that whole shares of a program's variables are (v,)."""
    x = np.round(shares).astype(int)
    k, p = len(program.columns), len(program.parcels)
    used = [(one, int(n)) for one, n in zip(program.columns, x[:k]) if n]
    posted = {key: int(n) for key, n in zip(program.posted, x[k + p :]) if n}
    return Whole(used, posted, float(program.cost @ x))
