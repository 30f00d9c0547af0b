"""Control charts for a process seen one run at a time: individuals, EWMA, CUSUM, and prediction when runs are few.

Source: nist-6-3-2. Limits are in the unit of the values.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import t

#: Mean range of two values of a normal process over its standard deviation, as the handbook prints it.
D2 = 1.128
FEWEST_FOR_VERDICT = 5
FEWEST_FOR_CHART = 10


@dataclass(frozen=True, slots=True)
class Limits:
    """Centre line and control limits."""

    centre: float
    low: float
    high: float


def individuals_limits(values: np.ndarray, d2: float = D2) -> Limits:
    """Mean ± 3 × mean moving range / d2 of values (n,), n of at least 2."""
    x = np.asarray(values, float)
    spread = 3 * float(np.abs(np.diff(x)).mean()) / d2
    return Limits(float(x.mean()), float(x.mean()) - spread, float(x.mean()) + spread)


def ewma(values: np.ndarray, start: float, weight: float = 0.2) -> np.ndarray:
    """Exponentially weighted moving averages (n,), the first from `start`: λx + (1 − λ) of the one before."""
    out, last = [], start
    for value in np.asarray(values, float):
        last = weight * value + (1 - weight) * last
        out.append(last)
    return np.array(out)


def ewma_limits(target: float, deviation: float, weight: float = 0.2, width: float = 3.0) -> Limits:
    """Limits of the moving averages in the long run: target ± width × s √(λ / (2 − λ))."""
    reach = width * deviation * float(np.sqrt(weight / (2 - weight)))
    return Limits(target, target - reach, target + reach)


def prediction_interval(values: np.ndarray, level: float = 0.95) -> Limits:
    """Where one further value of the same process lies with a probability, from few values: mean ± t s √(1 + 1/n)."""
    x = np.asarray(values, float)
    reach = float(t.ppf(0.5 + level / 2, len(x) - 1) * x.std(ddof=1) * np.sqrt(1 + 1 / len(x)))
    return Limits(float(x.mean()), float(x.mean()) - reach, float(x.mean()) + reach)


def out_of_control(values: np.ndarray, limits: Limits) -> str | None:
    """One point beyond the limits, or nine in a row on one side; None when neither. No verdict below five values."""
    x = np.asarray(values, float)
    if len(x) < FEWEST_FOR_VERDICT:
        return None
    if x[-1] < limits.low or x[-1] > limits.high:
        return "the last value lies beyond the limits"
    last = np.sign(x[-9:] - limits.centre)
    if len(last) == 9 and abs(last.sum()) == 9:
        return "nine values in a row lie on one side of the centre"
    return None
