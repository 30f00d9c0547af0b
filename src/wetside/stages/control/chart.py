"""Which chart a series of runs can carry, and what it says of the last one.

Under 2 earlier runs: the published limits alone. From 2 to 9: an interval in which one further run of the same process
lies. From 10: an individuals chart and moving averages (weight 0.2). Source: nist-6-3-2. No verdict under 5 strips.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wetside.laws.statistics.control import (
    FEWEST_FOR_CHART,
    ewma,
    ewma_limits,
    individuals_limits,
    out_of_control,
    prediction_interval,
)

Method = Literal["none", "prediction", "individuals"]
#: Nine figures are judged at once (D-min, LD, HD−LD of three layers): each at a level that keeps all nine at 95 %.
TOGETHER = 0.95
JUDGED = 9
WEIGHT = 0.2


@dataclass(frozen=True)
class Chart:
    """One measure of one layer: values in order, the expected range of the last from those before it, and why it is out."""

    method: Method
    values: np.ndarray
    centre: float | None
    low: float | None
    high: float | None
    average: np.ndarray | None
    average_low: float | None
    average_high: float | None
    out: str | None


def level_each(together: float = TOGETHER, judged: int = JUDGED) -> float:
    """The level of each of several intervals that keeps all of them together at a level (Bonferroni)."""
    return 1 - (1 - together) / judged


def chart_of(values: Sequence[float]) -> Chart:
    """The chart that a series can carry; values that are not known are left out by the caller."""
    x = np.asarray(values, float)
    before = x[:-1]
    if len(before) < 2 or float(np.ptp(before)) == 0:
        return Chart("none", x, None, None, None, None, None, None, None)
    if len(before) < FEWEST_FOR_CHART:
        range_ = prediction_interval(before, level_each())
        out = (
            None
            if range_.low <= x[-1] <= range_.high
            else f"outside the range of a further run of the same process ({TOGETHER:.0%} for all nine figures together)"
        )
        return Chart("prediction", x, range_.centre, range_.low, range_.high, None, None, None, out)
    range_ = individuals_limits(before)
    averages = ewma(x, range_.centre, WEIGHT)
    of_average = ewma_limits(range_.centre, (range_.high - range_.centre) / 3, WEIGHT)
    out = out_of_control(x, range_)
    if out is None and not of_average.low <= averages[-1] <= of_average.high:
        out = "the moving average has left its limits: a slow drift"
    return Chart(
        "individuals",
        x,
        range_.centre,
        range_.low,
        range_.high,
        averages,
        of_average.low,
        of_average.high,
        out,
    )
