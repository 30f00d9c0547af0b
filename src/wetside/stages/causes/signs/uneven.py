"""Uneven development as one of a few shapes across the film, found by a filter made for it.

A profile that is summed from row to row gathers the error of every row on the way. What a tank does across the width has
few shapes: one edge less developed, falling off over a part of the width; a slope; the middle against the edges. Each is
fitted to the robust steps of the logarithm of density (`grown`), a row counting by how little it varies from frame to
frame; the error of its size comes from whole frames drawn again. Pictures have shapes of their own (skies, vignettes),
so a shape is claimed only where it stands out by six errors, is 5 % at least, and is nearly alike in all three layers.
An error that comes from few frames is itself hardly known: the bound follows Student's t and is 6 at ten frames. How far
pictures' own shapes stray from picture to picture is known from many, so where few frames cannot tell their error, that and
theirs together are the error, and 3.5 of them are enough for a thin edge; a slope, as a sky over its ground has, and a middle
must stand out by themselves. Frames of one view count once together.
"""

from __future__ import annotations

import numpy as np
from scipy.special import stdtrit

from wetside.stages.causes.signs.grown import logs_above_base, summed
from wetside.stages.causes.signs.unmoved import counts_of

REACHES = (0.15, 0.22, 0.32, 0.45)
MOST_FRAMES, DRAWS, SMOOTH = 30, 40, 7
CLEAR, LEAST, PART = 6.0, 0.05, 0.6
#: How far a shape that pictures have by themselves strays from one to another [natural log], and how many errors it must stand
#: out by then (set on 195 photographs, docs/studies.md).
OF_PICTURES, CLEAR_OF_THEM = 0.10, 3.5
#: Chance of one side that an error of ten frames is passed sixfold, by Student's t with nine degrees of freedom.
BY_CHANCE = 1e-4
CALM = 0.0004  # natural log; no row is known better than that


def shapes(rows: int) -> np.ndarray:
    """Shapes across the film (k, rows), mean 0: either edge over four reaches, a slope, the middle against the edges."""
    across = (np.arange(rows) + 0.5) / rows
    edges = [np.clip((reach - across) / reach, 0, 1) for reach in REACHES]
    every = np.array([*edges, *(edge[::-1] for edge in edges), across - 0.5, (2 * across - 1) ** 2])
    return every - every.mean(axis=1, keepdims=True)


def uneven_profile(grids: np.ndarray) -> tuple[np.ndarray | None, np.ndarray]:
    """Relative profile (rows, 3) of density above base, natural log, mean 0, and the error of its depth (3,).

    grids (frames, rows, columns, 3) [D above base]. None where no shape stands out of its error (`least_size`), where it is
    under 5 %, or where the layers part by more than 0.6 of it: development is uneven in all layers alike.
    """
    chosen = grids[:: -(-len(grids) // MOST_FRAMES)]
    logs, views = logs_above_base(chosen), views_of(chosen)
    rng = np.random.default_rng(7)
    thinned = logs[:, :, ::2]
    steps = np.diff(summed(logs), axis=0)
    draws = np.stack([
        np.diff(summed(thinned[rng.integers(0, len(logs), len(logs))]), axis=0) for _ in range(DRAWS)
    ])  # fmt: skip
    known = shapes(grids.shape[1])
    slopes = np.diff(known, axis=1)
    filters = slopes * certainty(draws.mean(axis=2))
    power = (filters * slopes).sum(axis=1)
    filters /= power[:, None]
    size = filters @ steps.mean(axis=1)
    error = np.maximum((draws.mean(axis=2) @ filters.T).std(axis=0), 1e-3) * np.sqrt(len(logs) / views)
    best = int((size * size * power).argmax())  # the shape that leaves the least of the steps
    layers = filters[best] @ steps
    edge = best < 2 * len(REACHES)
    least = least_size(float(error[best]), views) if edge else clear_by(views) * float(error[best])
    clear = abs(size[best]) > max(LEAST, least)
    alike = abs(np.sign(layers).sum()) == 3 and np.ptp(layers) < PART * abs(size[best])
    spread = np.maximum((draws.transpose(2, 0, 1) @ filters[best]).std(axis=1), 1e-3)
    return (np.outer(known[best], layers) if clear and alike else None), spread


def views_of(grids: np.ndarray) -> float:
    """How many views grids (frames, rows, columns, 3) show; what a row holds all along the film tells none apart."""
    pictures = grids.mean(axis=3)
    return float(counts_of(pictures - pictures.mean(axis=2, keepdims=True)).sum())


def least_size(error: float, views: float) -> float:
    """Over what size [natural log] a thin edge is clear of its error, told by so many views, or of what so many pictures have by themselves."""
    return min(clear_by(views) * error, CLEAR_OF_THEM * float(np.hypot(error, OF_PICTURES / np.sqrt(views))))


def clear_by(views: float) -> float:
    """By how many of its errors a shape must stand out where so many views told them; six from ten on."""
    return max(CLEAR, float(stdtrit(max(1.0, views - 1), 1 - BY_CHANCE)))


def certainty(steps: np.ndarray) -> np.ndarray:
    """Weights (rows − 1,) of steps (draws, rows − 1): one over their variance, half of it shared with the rows near."""
    variance = steps.var(axis=0)
    near = np.convolve(np.pad(variance, SMOOTH // 2, mode="edge"), np.ones(SMOOTH) / SMOOTH, mode="valid")
    return 1 / (0.5 * variance + 0.5 * near + CALM**2)
