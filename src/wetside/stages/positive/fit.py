"""From densities above base to log exposure: what the roll itself tells when nothing else is known.

The fitted door assumes one slope a channel, the toe of a generic negative, and that over a whole roll the middle of
the pictures is neutral. It says so. White and black are placed by the roll, never by the frame, so frames of one roll
stay consistent.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wetside.figures.curves import Curves

#: Average gradients of current camera stocks, r g b; second-hand from published curves, as a prior.
GRADIENTS = np.array([0.47, 0.55, 0.53])
TOE = 4.0
MIDDLE = np.log10(0.2)
TOP = 4.0
POINTS = 4096


@dataclass(frozen=True)
class ToneFit:
    """Tables (POINTS, 3) of log10 scene exposure over density above base 0 … TOP, and how they were come by."""

    table: np.ndarray
    gradients: tuple[float, float, float]
    assumed: bool
    say: str


def log_exposure(above: np.ndarray, gradient: np.ndarray, toe: float = TOE) -> np.ndarray:
    """Log exposure from density above base: the inverse of gradient · ln(1 + e^(toe·x)) / toe, steep in the toe."""
    scaled = np.maximum(np.asarray(above, float) / gradient, 2e-3)
    return np.log(np.expm1(np.minimum(toe * scaled, 50.0))) / toe + np.where(
        toe * scaled > 50, scaled - 50 / toe, 0.0
    )


def fitted_tone(above: np.ndarray) -> ToneFit:
    """One gradient a channel and one balance for the roll from its pictures' densities above base (n, 3) [D]."""
    sample = np.maximum(above, 0.0)
    gradients = fitted_gradients(sample)
    x = log_exposure(sample, gradients)
    inner = (sample > np.percentile(sample, 15, axis=0)).all(axis=1) & (
        sample < np.percentile(sample, 97, axis=0)
    ).all(axis=1)
    offsets = np.median(x[inner] if inner.sum() > 100 else x, axis=0)
    table = log_exposure(_densities()[:, None], gradients) - offsets + MIDDLE
    say = "assumed: one slope a channel and a neutral middle, both from the roll's own pictures"
    return ToneFit(table, tuple(float(g) for g in gradients), True, say)  # type: ignore[arg-type]


def fitted_gradients(sample: np.ndarray) -> np.ndarray:
    """Gradients whose spread of densities over the roll is alike in the layers, half-way to the prior."""
    spread = np.percentile(sample, 92, axis=0) - np.percentile(sample, 20, axis=0)
    if (spread < 0.05).any():
        return GRADIENTS.copy()
    measured = GRADIENTS[1] * spread / spread[1]
    return np.sqrt(np.clip(measured / GRADIENTS, 0.6, 1.6)) * GRADIENTS


def own_tone(curves: Curves, above: np.ndarray) -> ToneFit:
    """Tables from the stock's own curves; only the level is placed by the roll."""
    d = _densities()
    columns = [_inverted(np.array(curves.log_h[c]), np.array(curves.density[c]), d) for c in "rgb"]
    table = np.stack(columns, axis=1)
    x = np.stack([np.interp(np.maximum(above[:, i], 0), d, table[:, i]) for i in range(3)], axis=1)
    level = float(np.median(x[:, 1]))
    slopes = tuple(float((c[600] - c[300]) and (d[600] - d[300]) / (c[600] - c[300])) for c in columns)
    return ToneFit(table - level + MIDDLE, slopes, False, f"curves of the stock: {curves.source}")  # type: ignore[arg-type]


def neutral_trim(above: np.ndarray, table: np.ndarray | None) -> tuple[float, float, float]:
    """Density to add r g b [D] so that a spot `above` base (3,) [D] prints grey; green stays. `table` as in `ToneFit`.

    Without a table (the exchange door) equal densities print grey: the rows of the exchange's matrix sum to one.
    """
    if table is None:
        wanted = np.full(3, above[1])
    else:
        d = _densities()
        x = np.interp(above[1], d, table[:, 1])
        wanted = np.array([np.interp(x, table[:, i], d) for i in range(3)])
    r, g, b = (float(v) for v in wanted - above)
    return (r, g, b)


def _inverted(log_h: np.ndarray, density: np.ndarray, at: np.ndarray) -> np.ndarray:
    """log H at densities, by the curve where it rises and straight on at both ends."""
    order = np.argsort(log_h)
    h, d = log_h[order], np.maximum.accumulate(density[order])
    keep = np.r_[True, np.diff(d) > 1e-5]
    h, d = h[keep], d[keep]
    inside = np.interp(at, d, h)
    top = (h[-1] - h[-3]) / max(d[-1] - d[-3], 1e-4) if len(d) > 3 else 2.0
    toe = (h[2] - h[0]) / max(d[2] - d[0], 1e-4) if len(d) > 3 else 2.0
    return np.where(
        at > d[-1], h[-1] + top * (at - d[-1]), np.where(at < d[0], h[0] - toe * (d[0] - at), inside)
    )


def _densities() -> np.ndarray:
    return np.linspace(0.0, TOP, POINTS)
