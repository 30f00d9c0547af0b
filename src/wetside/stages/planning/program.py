"""The program of whole mixes and parcels: variables, costs and rows.

Parcels are held by their rolls, since any rolls of a day can share one. Cuts are subset-row cuts: of any three rolls
that are like no other, at most one mix of two or more of them can be whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csc_matrix, csr_matrix, hstack, vstack

from wetside.stages.planning.parcels import price_in, within
from wetside.stages.planning.problem import Problem
from wetside.stages.planning.relaxed import Column, Relaxed, shelf

Floats = NDArray[np.float64]
Posted = tuple[int, int, int]
"""Rolls of a class in a parcel: laboratory, day, class."""


@dataclass(frozen=True)
class Program:
    """Variables are columns, then parcels (laboratory, day), then rolls posted (laboratory, day, class).

    rest: what a column costs beyond its rolls' worth (k,); every: each class's rolls (c, v); most_of: rows that may not
    pass `limits` (r, v).
    """

    columns: Sequence[Column]
    parcels: list[tuple[int, int]]
    posted: list[Posted]
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
        keep = (fines > 1e-6) | (np.arange(len(fines)) < len(fines) - self.cuts)
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


@dataclass
class _Rows:
    """A sparse matrix row by row, with what each row may not pass."""

    entries: list[tuple[int, int, float]] = field(default_factory=list)
    limits: list[float] = field(default_factory=list)

    def add(self, terms: Sequence[tuple[int, float]], limit: float) -> None:
        """One row of (variable, factor)."""
        self.entries += [(len(self.limits), variable, factor) for variable, factor in terms]
        self.limits.append(limit)

    def matrix(self, width: int) -> csc_matrix:
        """The rows (r, v)."""
        rows, variables, factors = zip(*self.entries) if self.entries else ((), (), ())
        return csr_matrix((factors, (rows, variables)), shape=(len(self.limits), width), dtype=float).tocsc()


def program_of(problem: Problem, at: Relaxed, columns: Sequence[Column], gap: float | None) -> Program:
    """The program of these columns, and of every parcel within a gap of the bound where one is given."""
    price = {} if gap is None else _prices(problem, at, gap)
    parcels = sorted({(lab, day) for lab, day, _ in price})
    request, sizes = problem.request, problem.sizes.astype(float)
    every, least = (
        _every(problem, columns, list(price), len(parcels)),
        _shared(problem, columns, list(price), parcels),
    )
    width = len(columns) + len(parcels) + len(price)
    cost = [
        *(one.cost for one in columns),
        *(request.labs[lab].per_parcel for lab, _ in parcels),
        *price.values(),
    ]
    most = [
        *(min(sizes[problem.of[i]] for i in one.rolls) for one in columns),
        *(len(problem.rolls) for _ in parcels),
        *(sizes[of] for *_, of in price),
    ]
    return Program(
        columns, parcels, list(price), np.array(cost, dtype=float), np.array(most, dtype=float), every.matrix(width), sizes,
        np.array([one.cost - at.worth[list(one.rolls)].sum() for one in columns]), least.matrix(width), np.array(least.limits),
    )  # fmt: skip


def _prices(problem: Problem, at: Relaxed, gap: float) -> dict[Posted, float]:
    """What a roll of each class costs in each parcel that may be in a plan within the gap."""
    found: dict[Posted, float] = {}
    for lab in range(len(problem.request.labs)):
        price = price_in(problem, lab)
        for m, i in zip(*np.nonzero(within(problem, lab, price, at.worth, gap))):
            found[lab, int(problem.days[m]), int(problem.of[i])] = float(price[m, i])
    return found


def _every(problem: Problem, columns: Sequence[Column], posted: Sequence[Posted], parcels: int) -> _Rows:
    """A row for each class: where its rolls are."""
    terms: list[dict[int, float]] = [{} for _ in problem.classes]
    for k, one in enumerate(columns):
        for i in one.rolls:
            here = terms[problem.of[i]]
            here[k] = here.get(k, 0.0) + 1.0
    for n, (*_, of) in enumerate(posted):
        terms[of][len(columns) + parcels + n] = 1.0
    rows = _Rows()
    for here, size in zip(terms, problem.sizes):
        rows.add(list(here.items()), float(size))
    return rows


def _shared(
    problem: Problem, columns: Sequence[Column], posted: Sequence[Posted], parcels: Sequence[tuple[int, int]]
) -> _Rows:
    """A parcel holds so many rolls, one that stands alone only goes where there is a parcel; a bath is there once."""
    rows, first = _Rows(), len(columns)
    inside: dict[tuple[int, int], list[tuple[int, int]]] = {parcel: [] for parcel in parcels}
    for n, (lab, day, of) in enumerate(posted):
        inside[lab, day].append((first + len(parcels) + n, of))
    for n, (parcel, rolls) in enumerate(inside.items()):
        holds = problem.request.labs[parcel[0]].parcel_rolls
        rows.add([*((at, 1.0) for at, _ in rolls), (first + n, -float(holds))], 0.0)
        for at, of in rolls:
            if problem.sizes[of] == 1:
                rows.add([(at, 1.0), (first + n, -1.0)], 0.0)
    for uses in shelf(problem, columns)[1].toarray():
        rows.add([(int(k), 1.0) for k in np.flatnonzero(uses)], 1.0)
    return rows
