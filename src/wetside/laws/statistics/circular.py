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
