"""Whole mixes and parcels: the cheapest plan among what lies within a gap of the bound, and its proof.

Theory. At the worths that end the relaxed program a mix that gains less than -gap cannot be in a plan that costs less
than bound + gap, nor can a roll in a parcel that gains less with it. So all others are listed and the program of these
is solved: a plan found that costs no more than bound + gap is the best there is, and where none is found every plan
costs more. The bound is lifted by cuts.
"""

from __future__ import annotations

import itertools
import time
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import vstack

from wetside.stages.planning.program import Floats, Posted, Program
from wetside.stages.planning.relaxed import Column

#: Rounds of cuts, cuts a round, and by how much one must be broken to be taken.
ROUNDS, EACH, BROKEN = 20, 60, 0.02
#: Variables a relaxed program is widened by at once.
AT_ONCE = 400
SLACK = 1e-6


@dataclass(frozen=True)
class Whole:
    """A plan of whole mixes and parcels: what is used how often, rolls posted besides (laboratory, day, class): how many, its cost."""

    used: list[tuple[Column, int]]
    posted: dict[Posted, int]
    cost: float


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
