"""The evenness map: all that varies over the frame, as one small factor on transmitted light."""

from __future__ import annotations

import numpy as np


def stain_factor(across: np.ndarray, density: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Factor (len(rows), 1, 3) that takes an additive cast out: 10^D of its profile, carried on straight at the rim.

    across (n,) places and density (n, 3) [D] of the profile; rows: places at which it is wanted, 0 and 1 the
    picture's edges.
    """
    columns = [_straight_on(rows, across, density[:, c]) for c in range(3)]
    return np.power(10.0, np.stack(columns, axis=1))[:, None, :].astype(np.float32)


def _straight_on(at: np.ndarray, places: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Linear interpolation that goes on straight beyond the first and last place (a clamped rim was 58 codes off)."""
    inside = np.interp(at, places, values)
    low = values[0] + (at - places[0]) * (values[1] - values[0]) / (places[1] - places[0])
    high = values[-1] + (at - places[-1]) * (values[-1] - values[-2]) / (places[-1] - places[-2])
    return np.where(at < places[0], low, np.where(at > places[-1], high, inside))
