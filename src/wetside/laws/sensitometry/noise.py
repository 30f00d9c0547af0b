"""The scanner's noise in two figures: variance = read² + shot × signal, all in codes. What it does to a density.

Two scans of the same film, nothing moved: half the variance of their difference is the scanner's, and the film's grain
cancels. Source: computed (photon noise grows with the light, the electronics' does not).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls


@dataclass(frozen=True)
class Noise:
    """`read` (3,) codes and `shot` (3,) codes: the variance added for each code of signal."""

    read: np.ndarray
    shot: np.ndarray

    def density_spread(self, density: np.ndarray, light: np.ndarray, pixels: float) -> np.ndarray:
        """Spread (…, 3) [D] of the mean over so many pixels at a density, with the light's level (3,) in codes."""
        signal = np.asarray(light, float) * np.power(10.0, -np.asarray(density, float))
        return np.sqrt(self.read**2 + self.shot * signal) / (signal * np.log(10) * np.sqrt(pixels))

    def ceiling(self, light: np.ndarray, pixels: float = 100.0, spread: float = 0.02) -> np.ndarray:
        """Density (3,) [D] over which the mean of so many pixels is no longer known to a spread [D]."""
        grid = np.linspace(0, 5, 1001)[:, None] * np.ones(3)
        known = self.density_spread(grid, light, pixels) <= spread
        return np.where(
            known.any(axis=0), grid[known.shape[0] - 1 - np.argmax(known[::-1], axis=0), range(3)], 0.0
        )


def noise_of(signal: np.ndarray, variance: np.ndarray) -> Noise:
    """The model from levels (n, 3) and variances (n, 3) [codes², n of at least 3], each weighted by its own size."""
    read, shot = np.zeros(3), np.zeros(3)
    for channel in range(3):
        size = np.maximum(variance[:, channel], 1e-9)
        design = np.stack([np.ones(len(signal)), signal[:, channel]], axis=1) / size[:, None]
        (floor, slope), _ = nnls(design, variance[:, channel] / size)
        read[channel], shot[channel] = np.sqrt(floor), slope
    return Noise(read, shot)


def pair_variance(first: np.ndarray, again: np.ndarray) -> np.ndarray:
    """The scanner's variance (3,) from one even patch scanned twice (h, w, 3): half of that of the difference."""
    away = (first.astype(np.float64) - again.astype(np.float64)).reshape(-1, 3)
    return away.var(axis=0, ddof=1) / 2
