"""Uneven development: a relative profile across the film, the same in thin and dense parts, from pictures.

Where development is uneven, density above base is a product of picture and profile, so steps of its logarithm from row to
row hold the profile's step in every even part of every picture, and anything at all elsewhere. A redescending mean
(Tukey's biweight, 0.02 wide) takes the even parts and leaves the rest, where a median is pulled by pictures; the bootstrap
over whole frames gives the error, so a roll of few even parts gets a large one and no answer.
"""

from __future__ import annotations

import numpy as np

WIDTH, ROUNDS, NEIGHBOURS = np.float32(0.02), 5, 5
MOST_FRAMES, DRAWS = 30, 40
THINNEST, LEAST, CLEAR = 0.08, 0.05, 4.5


def relative_profile(grids: np.ndarray) -> tuple[np.ndarray | None, np.ndarray]:
    """Relative profile (rows, 3) of density above base, natural log, mean 0, and its largest bootstrap error (3,).

    grids (frames, rows, columns, 3) [D above base]. None where its deepest row does not stand out of its own error by 4.5 in
    at least two layers, is under 5 %, or has not the same sign in all three: development is uneven in all layers alike.
    """
    logs = _logs(grids[:: -(-len(grids) // MOST_FRAMES)])
    profile = summed(logs)
    rng = np.random.default_rng(7)
    thinned = logs[:, :, ::4]
    draws = np.stack([summed(thinned[rng.integers(0, len(logs), len(logs))]) for _ in range(DRAWS)])
    error = np.maximum(draws.std(axis=0), 1e-3)
    deepest = np.abs(profile.mean(axis=1)).argmax()
    depth = np.abs(profile[deepest])
    clear = (depth > CLEAR * error[deepest]) & (depth > LEAST)
    alike = abs(np.sign(profile[deepest]).sum()) == 3
    return (profile if clear.sum() >= 2 and alike else None), error.max(axis=0)


def _logs(grids: np.ndarray) -> np.ndarray:
    """Logarithm of density above base; NaN where any layer is too thin to tell."""
    exposed = grids.min(axis=3, keepdims=True) > THINNEST
    return np.where(exposed, np.log(np.maximum(grids, 0.03)), np.nan).astype(np.float32)


def summed(logs: np.ndarray) -> np.ndarray:
    """Profile (rows, 3) from logs (frames, rows, columns, 3): redescending means of the steps, summed; mean 0."""
    rows = logs.shape[1]
    steps = np.diff(logs, axis=1).transpose(1, 0, 2, 3).reshape(rows - 1, -1, 3)
    known = np.isfinite(steps)
    steps = np.where(known, steps, 0.0)
    middle = _medians(steps, known)
    for _ in range(ROUNDS):
        off = (steps - middle[:, None]) / WIDTH
        weights = np.where(known & (np.abs(off) < 1), (1 - off * off) ** 2, 0.0)
        middle = _pooled((weights * steps).sum(axis=1)) / np.maximum(_pooled(weights.sum(axis=1)), 1e-9)
    profile = np.vstack([np.zeros(3), np.cumsum(middle, axis=0)])
    return profile - profile.mean(axis=0)


def _medians(steps: np.ndarray, known: np.ndarray) -> np.ndarray:
    """Median over axis 1 of the known steps; 0 for a row with none."""
    ordered = np.sort(np.where(known, steps, np.inf), axis=1)
    at = np.maximum(known.sum(axis=1) - 1, 0) // 2
    middle = np.take_along_axis(ordered, at[:, None, :], axis=1)[:, 0, :]
    return np.where(np.isfinite(middle), middle, 0.0)


def _pooled(values: np.ndarray) -> np.ndarray:
    """Sums over neighbouring rows, (rows, 3)."""
    half = NEIGHBOURS // 2
    total = np.vstack([np.zeros(3), np.cumsum(np.pad(values, ((half, half), (0, 0))), axis=0)])
    return total[NEIGHBOURS:] - total[:-NEIGHBOURS]
