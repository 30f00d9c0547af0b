"""Academy density exchange by its published formula: the oracle that OpenColorIO's built-in transform is held to.

Source: st-2065-3. Density here is above D-min, status of the exchange's own densities; results are ACES2065-1.
"""

from __future__ import annotations

import numpy as np

CHANNEL_INDEPENDENT = np.array(
    [[0.75573, 0.22197, 0.02230], [0.05901, 0.96928, -0.02829], [0.16134, 0.07406, 0.76460]]
)
TO_ACES = np.array([[0.72286, 0.12630, 0.15084], [0.11923, 0.76418, 0.11659], [0.01427, 0.08213, 0.90359]])
KNEE = 0.6
DENSITY = (-0.19, 0.01, 0.028, 0.054, 0.095, 0.145, 0.22, 0.3, 0.4, 0.5, 0.6)
LOG_EXPOSURE = (
    -6.0, -2.721718645, -2.521718645, -2.321718645, -2.121718645, -1.921718645, -1.721718645, -1.521718645,
    -1.321718645, -1.121718645, -0.926545676714876,
)  # fmt: skip


def aces_from_density(density: np.ndarray) -> np.ndarray:
    """ACES2065-1 (…, 3) from channel-dependent densities above D-min (…, 3) [D]."""
    independent = np.asarray(density, float) @ CHANNEL_INDEPENDENT.T
    low = np.interp(independent, DENSITY, LOG_EXPOSURE)
    high = (100 / 55) * independent - 2.0174547
    exposure = np.power(10.0, np.where(independent > KNEE, high, low))
    return exposure @ TO_ACES.T


def adx10(density: np.ndarray) -> np.ndarray:
    """10-bit codes: 500 D + 95."""
    return 500 * np.asarray(density, float) + 95
