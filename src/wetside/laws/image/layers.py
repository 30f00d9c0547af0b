"""Over the three layers of a picture, pixel by pixel; many times quicker than a reduction along the last axis."""

from __future__ import annotations

import numpy as np


def highest(layers: np.ndarray) -> np.ndarray:
    """Largest of the three layers, (h, w) from (h, w, 3)."""
    return np.maximum(np.maximum(layers[..., 0], layers[..., 1]), layers[..., 2])


def lowest(layers: np.ndarray) -> np.ndarray:
    """Smallest of the three layers, (h, w) from (h, w, 3)."""
    return np.minimum(np.minimum(layers[..., 0], layers[..., 1]), layers[..., 2])
