"""Density from light: D = −log10 T, with T = (scan − dark) / (light − dark) × exposure ratio."""

from __future__ import annotations

import numpy as np

FLOOR = 1e-5


def transmittance(
    scan: np.ndarray, light: np.ndarray | float, dark: np.ndarray | float = 0.0, exposure_ratio: float = 1.0
) -> np.ndarray:
    """T per pixel and channel, (h, w, 3) float32. `exposure_ratio` is the light's exposure over the scan's."""
    found = scan.astype(np.float32)
    found -= dark
    found /= np.maximum(np.asarray(light, np.float32) - dark, 1e-6)
    found *= np.float32(exposure_ratio)
    return found


def density_from_transmittance(t: np.ndarray) -> np.ndarray:
    """D = −log10 T; light at or below the floor of 1e-5 reads as D 5, never as NaN."""
    return -np.log10(np.maximum(t, FLOOR))


def density_without_flare(density: np.ndarray, level: np.ndarray, share: float) -> np.ndarray:
    """D (…, 3) without veiling light: T = (10^−D − level) / (1 − share), `level` (3,) the veil as a transmittance.

    A frame of mean transmittance m under flare f reads (1 − f) T + f m against a light that flares as much, so an
    opaque part reads f m = `level`, and `share` = f. Light at or below the floor reads D 5.
    """
    t = (np.power(np.float32(10), -density) - level.astype(np.float32)) / np.float32(1 - share)
    return density_from_transmittance(t)
