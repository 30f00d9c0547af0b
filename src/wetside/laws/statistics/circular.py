"""Directions and phases: mean resultant length and Rayleigh's test of uniformity."""

from __future__ import annotations

import numpy as np


def resultant_length(angles: np.ndarray, axis: int = -1) -> np.ndarray:
    """Mean resultant length, 0 (spread evenly) to 1 (all alike), of angles [rad] along an axis."""
    return np.abs(np.exp(1j * np.asarray(angles, float)).mean(axis=axis))


def mean_direction(angles: np.ndarray) -> float:
    """Mean direction [rad] of angles [rad]."""
    return float(np.angle(np.exp(1j * np.asarray(angles, float)).mean()))


def rayleigh_p(angles: np.ndarray) -> float:
    """Chance that directions spread evenly would agree as well as these: Rayleigh's test, second-order series.

    p = e^−z (1 + (2z − z²)/4n − (24z − 132z² + 76z³ − 9z⁴)/288n²), z = n R².
    """
    n = len(angles)
    z = n * float(resultant_length(angles)) ** 2
    series = 1 + (2 * z - z * z) / (4 * n) - (24 * z - 132 * z**2 + 76 * z**3 - 9 * z**4) / (288 * n * n)
    return float(min(1.0, max(0.0, np.exp(-z) * series)))


def von_mises_density(angles: np.ndarray, concentration: float) -> np.ndarray:
    """Density [1/rad] of the circular normal distribution about 0: e^(κ (cos θ − 1)) / (2π I₀(κ) e^−κ)."""
    from scipy.special import i0e

    return np.exp(concentration * (np.cos(angles) - 1)) / (2 * np.pi * i0e(concentration))


def clustering(
    angles: np.ndarray, deviation: float, share: float = 0.75, bins: int = 48
) -> tuple[np.ndarray, np.ndarray]:
    """How much better one cluster among strays explains directions than none, as a log likelihood ratio; and its place.

    angles (draws, n) [rad]; a share of them lies within a standard deviation [rad] of one direction, the rest anywhere.
    Returns the ratio at the best direction (draws,), natural log, and that direction (draws,) [rad]. Directions are
    rounded to 2π/bins, so `deviation` should be no smaller than that.
    """
    width = 2 * np.pi / bins
    centres = (np.arange(bins) + 0.5) * width
    apart = centres[:, None] - centres[None, :]
    ratio = np.log(1 - share + share * 2 * np.pi * von_mises_density(apart, 1 / deviation**2))
    at = np.floor(np.mod(angles, 2 * np.pi) / width).astype(int) % bins
    row = np.arange(len(at))[:, None] * bins
    counts = np.bincount((row + at).ravel(), minlength=len(at) * bins).reshape(len(at), bins)
    found = counts @ ratio.T
    best = found.argmax(axis=1)
    return found[np.arange(len(at)), best], centres[best]
