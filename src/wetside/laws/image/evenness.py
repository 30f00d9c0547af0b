"""The evenness map: all that varies over the frame, as one small factor on transmitted light."""

from __future__ import annotations

import cv2
import numpy as np


def light_factor(light: np.ndarray) -> np.ndarray:
    """Factor (h, w, 3) that takes a light's unevenness out and leaves its mean colour: mean / light."""
    field = np.maximum(light.astype(np.float32), 1e-6)
    mean = field.mean(axis=(0, 1), dtype=np.float64)
    factor: np.ndarray = mean.astype(np.float32) / field
    return factor


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


def full_size(small: np.ndarray, height: int, width: int) -> np.ndarray:
    """A small map at full size, interpolated in the logarithm so that it stays a smooth factor; rim carried on."""
    logs = np.log(np.maximum(small, 1e-6))
    padded = cv2.copyMakeBorder(logs, 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    padded[0], padded[-1] = 2 * padded[1] - padded[2], 2 * padded[-2] - padded[-3]
    padded[:, 0], padded[:, -1] = 2 * padded[:, 1] - padded[:, 2], 2 * padded[:, -2] - padded[:, -3]
    rows = (np.arange(height, dtype=np.float32) + 0.5) * small.shape[0] / height + 0.5
    columns = (np.arange(width, dtype=np.float32) + 0.5) * small.shape[1] / width + 0.5
    x, y = np.meshgrid(columns, rows)
    return np.exp(cv2.remap(padded.astype(np.float32), x, y, cv2.INTER_LINEAR))
