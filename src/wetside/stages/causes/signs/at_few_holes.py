"""Plumes beside a few of the perforations: a surge need not leave one at every hole.

Which question: do some holes have a plume beside them, where places along the same edge away from holes have none? Needs holes
that are seen. Each hole's steps of the logarithm of density speak for a plume of some size and width rather than for none
(`spoken`); what the holes say together is the likelihood of a mixture, a share of them with a plume and the rest without,
at the best share. How much that strays by itself is told by the same pictures, each looked at beside its holes at a
distance drawn at random, where no plume can be. So a hole without a plume takes nothing from one that has it, and
pictures with one hole or two tell as well as those with eight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wetside.stages.causes.signs.at_holes import AtHoles, Holes, Plumes
from wetside.stages.causes.signs.unmoved import shared

#: Half width of what is looked at round a hole, one step along the film, and how far into the picture [mm].
WINDOW, STEP, DEEP = 2.7, 0.3, 1.8
#: How near steps must lie to be one [natural log]; how many of a hole's rows are independent (judged).
NEAR, ROWS = 0.03, 2.0
#: Sizes [natural log] and half widths [mm] of a plume that are tried.
SIZES, WIDTHS = (0.1, 0.2, 0.35), (0.6, 0.9, 1.3)
SHARES = (0.1, 0.2, 0.35, 0.5, 0.7, 0.95)
#: Draws beside the holes; how far [mm] from a hole they lie at the least.
DRAWS, AWAY = 40, 1.5
#: The mixture's gain [natural log] must be over this and so much more a hole, for the best of many holes strays further, and so
#: many strays over its middle beside the holes; fewest holes that show it, on so many frames.
LEAST, A_HOLE, CLEAR, FEWEST, FRAMES = 8.0, 0.05, 4.0, 4, 3
#: No draw strays less than this [natural log]; how far draws lie apart [mm].
CALM, APART = 0.5, 0.4
#: Fewest pictures, fewest holes, and the sureness from which a hole counts as one with a plume.
PICTURES, HOLES, SURE = 5, 5, 0.8
#: The stretch further in [mm] that must be calmer, and how much of the strays it may show; where a plume ends, as a share of its height, and at the farthest [mm].
INSIDE, LEFT_INSIDE, FOOT, FARTHEST = (4.5, 6.3), 0.5, 0.4, 6.0
#: Pictures this thin above their base [D] tell nothing.
THINNEST = 0.06


@dataclass(frozen=True)
class Edge:
    """A picture's logarithm of density above base (h, w), its top edge the one that is asked, NaN where thin; cells in mm; columns of holes."""

    logs: np.ndarray
    cell: float
    holes: np.ndarray


def edge_of(one: Holes, perf_mm: float, below: bool) -> Edge:
    """One picture's edge, the top one or the bottom one (`below`)."""
    above = one.above[::-1] if below else one.above
    thin = ~(above.min(axis=2) > THINNEST)
    logs = np.where(thin, np.nan, np.log(np.maximum(np.nan_to_num(above).mean(axis=2), 0.03)))
    cell = perf_mm / one.pitch
    first = (one.at or 0.0) % one.pitch
    return Edge(logs, cell, np.arange(first, logs.shape[1], one.pitch))


def blocks_at(edge: Edge, columns: np.ndarray, depth: tuple[float, float]) -> np.ndarray:
    """Steps (places, rows, phases) of the logarithm round columns (n,), over a stretch [mm] from the edge; NaN out of the picture."""
    rows = edge.logs[round(depth[0] / edge.cell) : max(1, round(depth[1] / edge.cell))]
    offsets = np.arange(-WINDOW, WINDOW + STEP / 2, STEP) / edge.cell
    places = columns[:, None] + offsets
    inside = (places >= 0) & (places <= edge.logs.shape[1] - 1)
    held = np.clip(places, 0, edge.logs.shape[1] - 1)
    left = np.minimum(held.astype(int), edge.logs.shape[1] - 2)
    share = (held - left).astype(np.float32)
    values = rows[:, left] * (1 - share) + rows[:, left + 1] * share
    values = np.where(inside, values, np.nan)
    return np.diff(values, axis=2).transpose(1, 0, 2)


def templates() -> np.ndarray:
    """Steps (k, phases) [natural log] of plumes of every size and width."""
    u = np.abs(np.arange(-WINDOW, WINDOW + STEP / 2, STEP))
    bumps = [size * np.clip((2 * w - u) / (2 * w), 0, 1) for w in WIDTHS for size in SIZES]
    return np.diff(np.stack(bumps), axis=1)


def spoken(blocks: np.ndarray) -> np.ndarray:
    """How much each place's steps (places, rows, phases) speak for a plume of some size rather than for none (places,) [natural log]."""
    plain = np.log1p((blocks / NEAR) ** 2)
    known = np.maximum(np.isfinite(blocks).any(axis=2).sum(axis=1), 1)
    every = []
    for want in templates():
        ratio = np.nan_to_num(plain - np.log1p(((blocks - want) / NEAR) ** 2))
        every.append(ratio.sum(axis=(1, 2)) * ROWS / np.maximum(known, ROWS))
    return np.asarray(np.logaddexp.reduce(np.stack(every), axis=0) - np.log(len(every)))


def mixture(speaks: np.ndarray, counts: np.ndarray) -> tuple[float, float]:
    """The most that places gain [natural log] by a share of them with a plume, and that share; `counts` (places,) weighs each."""
    gains = [float(counts @ np.logaddexp(np.log1p(-s), np.log(s) + speaks)) for s in SHARES]
    best = int(np.argmax(gains))
    return gains[best], SHARES[best]


def at_few_holes(
    pictures: Sequence[Holes], perf_mm: float, counts: np.ndarray, edges: Sequence[bool] = (False, True)
) -> list[AtHoles]:
    """What comes with a share of the holes along `edges` (False: the top one) that have holes of this pitch [mm].

    `counts` (n,): how much each picture counts, those of one view once together.
    """
    if counts.sum() < PICTURES - 0.5 or any(one.at is None or one.pitch <= 0 for one in pictures):
        return []
    return [
        found
        for below in edges
        if (found := _along([edge_of(one, perf_mm, below) for one in pictures], counts, below)) is not None
    ]


def _along(edges: Sequence[Edge], counts: np.ndarray, below: bool) -> AtHoles | None:
    """What comes with a share of the holes along the edge that is asked."""
    holes = sum(len(edge.holes) for edge in edges)
    if holes < HOLES:
        return None
    gain, strays, share, speaks = told_at(edges, counts, (0.0, DEEP))
    if gain < LEAST + A_HOLE * holes or strays < CLEAR:
        return None
    if told_at(edges, counts, INSIDE)[1] > LEFT_INSIDE * strays:
        return None
    shown = [_posterior(own, share) for own in speaks]
    sure = [own > SURE for own in shown]
    if sum(own.any() for own in sure) < FRAMES or sum(int(own.sum()) for own in sure) < FEWEST:
        return None
    profile = _profile(edges, sure, (0.0, DEEP))
    deep = _depth(edges, sure, profile)
    marks = tuple(_plumes(edge, own, profile, deep, below) for edge, own in zip(edges, sure, strict=True))
    every = float(np.average(np.concatenate(shown), weights=np.repeat(counts, [len(own) for own in shown])))
    reach = deep / edges[0].cell / edges[0].logs.shape[0]
    return AtHoles(profile, strays, below, every, reach, None, marks)


def told_at(
    edges: Sequence[Edge], counts: np.ndarray, depth: tuple[float, float]
) -> tuple[float, float, float, list[np.ndarray]]:
    """What the mixture gains over a stretch [mm] from the edge, how many strays that is over chance, its share, what each hole speaks."""
    own = [spoken(blocks_at(edge, edge.holes, depth)) for edge in edges]
    weights = np.repeat(counts, [len(one) for one in own])
    gain, share = mixture(np.concatenate(own), weights)
    beside, rng = [_beside(edge, depth) for edge in edges], np.random.default_rng(len(edges))
    draws = [
        mixture(np.concatenate([one[rng.integers(len(one))] for one in beside]), weights)[0]
        for _ in range(DRAWS)
    ]
    return gain, (gain - float(np.mean(draws))) / (float(np.std(draws)) + CALM), share, own


def _beside(edge: Edge, depth: tuple[float, float]) -> list[np.ndarray]:
    """What as many places speak that lie beside the holes, all at one distance from them, for every such distance."""
    wide = edge.logs.shape[1] - 1
    period = edge.holes[1] - edge.holes[0] if len(edge.holes) > 1 else wide
    shifts = np.arange(AWAY / edge.cell, period - AWAY / edge.cell + 1e-6, max(1.0, APART / edge.cell))
    return [spoken(blocks_at(edge, (edge.holes + shift) % wide, depth)) for shift in shifts]


def _posterior(speaks: np.ndarray, share: float) -> np.ndarray:
    """The chance of a plume at each hole (holes,), where such a share of all has one."""
    return np.asarray(1 / (1 + np.exp(np.clip(np.log1p(-share) - np.log(share) - speaks, -50, 50))))


def _profile(edges: Sequence[Edge], sure: Sequence[np.ndarray], depth: tuple[float, float]) -> np.ndarray:
    """Profile (phases + 1,) [natural log, its lower half 0 in the middle] that the holes with a plume share over a stretch [mm]."""
    blocks = [blocks_at(edge, edge.holes[own], depth) for edge, own in zip(edges, sure, strict=True)]
    own = np.concatenate([block.reshape(-1, block.shape[2]) for block in blocks])
    step, _ = shared(own, np.ones(len(own)), NEAR)
    profile = np.concatenate([[0.0], np.cumsum(step)])
    return profile - float(np.median(np.sort(profile)[: len(profile) // 2]))


def _depth(edges: Sequence[Edge], sure: Sequence[np.ndarray], profile: np.ndarray) -> float:
    """How far from the edge the plumes reach [mm]: where less than their foot is left of them."""
    steps = np.diff(profile)
    for part in np.arange(0.6, FARTHEST, 0.6):
        there = np.diff(_profile(edges, sure, (part, part + 0.6)))
        if float(there @ steps) < FOOT * float(steps @ steps):
            return float(part)
    return FARTHEST


def _plumes(edge: Edge, sure: np.ndarray, profile: np.ndarray, deep: float, below: bool) -> Plumes:
    """Boxes and ΔD of a picture's plumes, as it stands upright."""
    tall, wide = edge.logs.shape
    half = max(2.0, float((profile > FOOT * profile.max()).sum()) * STEP / 2 / edge.cell)
    rows, found = np.exp(edge.logs[: max(1, round(deep / edge.cell))]), []
    high = min(1.0, deep / edge.cell / tall)
    for middle in edge.holes[sure]:
        left, right = max(0.0, middle - half), min(float(wide), middle + half)
        level = float(np.nanmedian(rows[:, round(left) : round(right) + 1]))
        box = np.array([left / wide, 1 - high if below else 0.0, (right - left) / wide, high])
        found.append((box, np.full(3, (1 - np.exp(-profile.max())) * level)))
    return tuple(found)
