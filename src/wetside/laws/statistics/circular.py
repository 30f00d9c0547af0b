"""Directions on a circle: one cluster of them among strays, and how much likelier that is than none."""

from __future__ import annotations

import numpy as np


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


def cluster_evidence(
    angles: np.ndarray,
    deviations: tuple[float, ...],
    shares: tuple[float, ...],
    bins: int = 48,
    span: float = 1.0,
) -> np.ndarray:
    """How much likelier directions are with one cluster among strays than with none: natural log of the mean ratio (draws,).

    angles (draws, n) [rad]; a share of them lies within a standard deviation [rad] of one direction, the rest anywhere; the
    mean is over directions, deviations and shares alike. `span`: the part of the turn in which directions can lie at all.
    Directions are rounded to 2π/bins. At random within the span, e^this has the mean 1.
    """
    at = np.floor(np.mod(angles, 2 * np.pi) * (bins / (2 * np.pi))).astype(int) % bins
    row = np.arange(len(at))[:, None] * bins
    counts = np.bincount((row + at).ravel(), minlength=len(at) * bins).reshape(len(at), bins).astype(float)
    apart = 2 * np.pi / bins * np.arange(bins)
    ratios = []
    for deviation in deviations:
        near = 2 * np.pi * span * von_mises_density(apart[:, None] - apart[None, :], 1 / deviation**2)
        ratios += [counts @ np.log(1 - share + share * near) for share in shares]
    return log_mean(np.concatenate(ratios, axis=1))


def log_mean(logs: np.ndarray, weights: np.ndarray | None = None) -> np.ndarray:
    """Natural log of the mean over the last axis of e^logs; weights sum to 1."""
    top = logs.max(axis=-1, keepdims=True)
    shares = np.exp(logs - top)
    mean = shares.mean(axis=-1) if weights is None else shares @ weights
    return np.log(mean) + top[..., 0]
