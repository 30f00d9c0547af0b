"""Uneven development: a relative profile across the film, the same in thin and dense parts, from pictures.

Where development is uneven, density above base is a product of picture and profile, so steps of its logarithm from row to
row hold the profile's step in every even part of every picture, and anything at all elsewhere. A redescending mean
(Tukey's biweight, 0.02 wide) takes the even parts and leaves the rest, where a median is pulled by pictures. What shape the
steps have, and with what error, is asked by `uneven`.
"""

from __future__ import annotations

import numpy as np

WIDTH, ROUNDS, NEIGHBOURS = np.float32(0.02), 5, 5
THINNEST = 0.08


def logs_above_base(grids: np.ndarray) -> np.ndarray:
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
