"""Over the three layers of a picture, pixel by pixel; many times quicker than a reduction along the last axis."""

from __future__ import annotations

import numpy as np


def highest(layers: np.ndarray) -> np.ndarray:
    """Largest of the three layers, (h, w) from (h, w, 3)."""
    found = np.maximum(layers[..., 0], layers[..., 1])
    return np.maximum(found, layers[..., 2], out=found)


def lowest(layers: np.ndarray) -> np.ndarray:
    """Smallest of the three layers, (h, w) from (h, w, 3)."""
    found = np.minimum(layers[..., 0], layers[..., 1])
    return np.minimum(found, layers[..., 2], out=found)


def all_under(layers: np.ndarray, limit: np.ndarray) -> np.ndarray:
    """Where every layer lies under its own limit (3,), (h, w) bool from (h, w, 3)."""
    found = layers[..., 0] < limit[0]
    found &= layers[..., 1] < limit[1]
    found &= layers[..., 2] < limit[2]
    return found


def farthest(layers: np.ndarray, levels: np.ndarray, either_way: bool = False) -> np.ndarray:
    """How far the farthest layer lies over the nearest of some levels (k, 3), (h, w) from (h, w, 3); `either_way`: over or under."""
    planes = [np.ascontiguousarray(layers[..., i]) for i in range(3)]
    nearest: np.ndarray | None = None
    for level in levels.astype(layers.dtype):
        away = [plane - own for plane, own in zip(planes, level)]
        if either_way:
            away = [np.abs(one, out=one) for one in away]
        np.maximum(away[0], away[1], out=away[0])
        np.maximum(away[0], away[2], out=away[0])
        nearest = away[0] if nearest is None else np.minimum(nearest, away[0], out=nearest)
    if nearest is None:
        raise ValueError("no level")
    return nearest
