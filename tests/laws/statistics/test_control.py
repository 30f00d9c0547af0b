"""Control charts against the worked examples of the NIST/SEMATECH handbook."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.statistics.control import (
    Limits,
    ewma,
    ewma_limits,
    individuals_limits,
    out_of_control,
    prediction_interval,
)

FLOW = np.array([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
EWMA = np.array([52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, *FLOW])


@pytest.mark.published(source="nist-6-3-2", place="6.3.2.2: mean 50.81, limits 55.8041 and 45.8159")
def test_individuals_chart_of_the_handbook() -> None:
    limits = individuals_limits(FLOW)
    assert limits.centre == pytest.approx(50.81, abs=0.005)
    assert limits.high == pytest.approx(55.8041, abs=5e-5)
    assert limits.low == pytest.approx(45.8159, abs=5e-5)


@pytest.mark.published(
    source="nist-6-3-2",
    place="6.3.2.4: last averages 51.94, 51.99; limits 52.5884 and 47.4115 (printed truncated)",
)
def test_ewma_chart_of_the_handbook() -> None:
    assert ewma(EWMA, 50, 0.3)[-2:] == pytest.approx([51.94, 51.99], abs=0.005)
    limits = ewma_limits(50, 2.0539, 0.3)
    assert (limits.high, limits.low) == pytest.approx((52.5884, 47.4115), abs=1e-4)


@pytest.mark.independent(how="4,000 processes of six runs: share of seventh runs inside")
def test_the_prediction_interval_holds_its_level() -> None:
    rng = np.random.default_rng(4)
    runs = rng.normal(0, 1, (4000, 7))
    inside = [i.low <= x[6] <= i.high for x in runs for i in [prediction_interval(x[:6], 0.9)]]
    assert np.mean(inside) == pytest.approx(0.9, abs=3 * np.sqrt(0.09 / 4000) + 0.003)


def test_there_is_no_verdict_on_few_values_and_two_rules_after() -> None:
    limits = Limits(0, -3, 3)
    assert out_of_control(np.array([0, 9.0]), limits) is None
    assert out_of_control(np.array([0, 0, 0, 0, 9.0]), limits) == "the last value lies beyond the limits"
    assert out_of_control(np.full(9, 0.5), limits) == "nine values in a row lie on one side of the centre"
    assert out_of_control(np.array([0.5, -0.5] * 6), limits) is None
