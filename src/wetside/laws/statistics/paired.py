"""Paired halves: did a difference between them stand out, and how large must one be before so many pairs would show it?

Student's t on the differences of pairs; its power by the noncentral t distribution (nist-1-3-5-3, and textbooks of experiments).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class PairedDifference:
    """Mean of second minus first, its spread (one standard deviation of the mean), and the chance of as much by accident."""

    mean: float
    spread: float
    p: float
    pairs: int


def paired_difference(first: np.ndarray, second: np.ndarray) -> PairedDifference:
    """Difference of paired values (n,), n of at least 2, in their own unit; two-sided p by Student's t."""
    from scipy.stats import t

    away = np.asarray(second, float) - np.asarray(first, float)
    n = len(away)
    mean, spread = float(away.mean()), float(away.std(ddof=1) / np.sqrt(n))
    if spread == 0:
        return PairedDifference(mean, 0.0, 1.0 if mean == 0 else 0.0, n)
    return PairedDifference(mean, spread, float(2 * t.sf(abs(mean) / spread, n - 1)), n)


def largest_spread(spread: float, pairs: int, level: float = 0.8) -> float:
    """Upper bound of a standard deviation seen over so many pairs, by the chi-square distribution; pairs of at least 2."""
    from scipy.stats import chi2

    return float(spread * np.sqrt((pairs - 1) / chi2.ppf(1 - level, pairs - 1)))


def paired_power(difference: float, spread: float, pairs: int, level: float = 0.05) -> float:
    """Chance that a difference shows at a two-sided level; `spread` is that of one pair's difference, in its unit."""
    from scipy.stats import nct, t

    if pairs < 2:
        return 0.0
    limit = t.ppf(1 - level / 2, pairs - 1)
    away = abs(difference) / spread * np.sqrt(pairs)
    return float(nct.sf(limit, pairs - 1, away) + nct.cdf(-limit, pairs - 1, away))


def smallest_shown(spread: float, pairs: int, power: float = 0.8, level: float = 0.05) -> float | None:
    """The difference that so many pairs show with a power, in the unit of `spread`; None below two pairs."""
    from scipy.optimize import brentq

    if pairs < 2:
        return None
    return float(brentq(lambda d: paired_power(d, spread, pairs, level) - power, 0.0, 400 * spread))
