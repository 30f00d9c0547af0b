"""The tank's constants out of its log: planted tanks, coverage of the stated spread, heat bookkeeping."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from wetside.laws.thermal.refit import (
    PRIOR_CAPACITY,
    PRIOR_TIME,
    Constants,
    Standing,
    prior_constants,
    refitted,
)
from wetside.laws.thermal.sequence import (
    after_pour,
    through_baths,
    warmth_for_the_baths,
    with_constants,
)
from wetside.laws.thermal.tank import heat_capacity_of_water, tank_of
from wetside.laws.thermal.thermometer import correction

TANK = tank_of(500, 350)


def logged(capacity: float, time: float, noise: np.random.Generator, runs: int = 3) -> list[Standing]:
    """Developer and bleach of some runs in a tank with these constants, by integrating its equation."""
    found = []
    for _ in range(runs):
        vessel = 21.0
        for bottle, seconds in ((43.0, 240), (38.0, 300)):
            start = (TANK.liquid_capacity * bottle + capacity * vessel) / (TANK.liquid_capacity + capacity)
            start += noise.normal(0, 0.2)  # the pour is not at one temperature at once
            way = solve_ivp(
                lambda t, y: -(y - 21) / time, (0, seconds), [start], dense_output=True, rtol=1e-8
            )
            times = [40.0, seconds - 20.0]
            read = tuple((t, float(way.sol(t)[0] + noise.normal(0, 0.15))) for t in times)
            found.append(Standing(TANK.liquid_capacity, bottle, vessel, 21.0, read))
            vessel = float(way.y[0, -1])
    return found


@pytest.mark.independent(how="planted truth: forty tanks drawn from the prior, logs made by an ODE solver")
def test_planted_constants_lie_within_their_stated_spread() -> None:
    noise, prior = np.random.default_rng(11), prior_constants(TANK)
    scores = []
    for _ in range(40):
        capacity = prior.vessel.value * math.exp(noise.normal(0, PRIOR_CAPACITY))
        time = prior.time.value * math.exp(noise.normal(0, PRIOR_TIME))
        found = refitted(prior, logged(capacity, time, noise))
        scores += [
            (found.vessel.value - capacity) / found.vessel.spread,
            (found.time.value - time) / found.time.spread,
        ]
    within = np.abs(scores) < 1
    assert 0.55 < within.mean() < 0.85
    assert (np.abs(scores) < 3).mean() > 0.97


@pytest.mark.independent(how="planted truth: a steel-like tank in the place of the plastic one")
def test_a_log_narrows_the_prior_and_finds_another_tank() -> None:
    prior = prior_constants(TANK)
    found = refitted(prior, logged(250.0, 1200.0, np.random.default_rng(3), runs=6))
    assert found.vessel.value == pytest.approx(250, abs=3 * found.vessel.spread)
    assert found.time.value == pytest.approx(1200, abs=3 * found.time.spread)
    assert found.vessel.spread < prior.vessel.spread / 2
    assert found.time.spread < prior.time.spread / 2
    assert found.readings == 24


def test_no_log_leaves_the_prior_and_a_drift_alone_says_little_of_the_drop() -> None:
    prior = prior_constants(TANK)
    assert refitted(prior, []) == prior
    drift = Standing(TANK.liquid_capacity, None, None, 21.0, ((30.0, 41.0), (900.0, 36.5)))
    found = refitted(prior, [drift])
    assert found.vessel.spread / found.vessel.value > 0.9 * PRIOR_CAPACITY
    assert found.time.spread / found.time.value < 0.2 * PRIOR_TIME


@pytest.mark.independent(how="ΣC·T before and after every pour, what was left behind included")
def test_heat_is_kept_at_a_pour() -> None:
    left, vessel, liquid = 20.0, 27.0, 41.1
    after = after_pour(TANK, vessel, liquid, left)
    old = TANK.vessel_capacity + heat_capacity_of_water(left)
    new = heat_capacity_of_water(TANK.volume - left)
    assert (old + new) * after == pytest.approx(old * vessel + new * liquid)


@pytest.mark.independent(
    how="worked figures: a 27 °C prebath leaves 38.3 and 36.9 °C for a 41.1 °C developer"
)
@pytest.mark.parametrize(("volume", "lands"), [(500, 38.3), (300, 36.9)])
def test_a_cool_prebath_cools_the_developer(volume: float, lands: float) -> None:
    assert after_pour(tank_of(volume, 350), 27.0, 41.1) == pytest.approx(lands, abs=0.05)


@pytest.mark.independent(how="the answer poured forwards through the same baths, and by an ODE solver")
def test_the_baths_before_the_developer_can_warm_the_tank() -> None:
    wanted = warmth_for_the_baths(TANK, 21.0, 21.0, [60.0, 30.0], 41.5)
    assert through_baths(TANK, 21.0, 21.0, [(wanted, 60.0), (wanted, 30.0)])[-1] == pytest.approx(41.5)
    first = after_pour(TANK, 21.0, wanted)
    way = solve_ivp(lambda t, y: -(y - 21) / TANK.time_constant, (0, 60), [first], rtol=1e-10)
    assert through_baths(TANK, 21.0, 21.0, [(wanted, 60.0)])[0] == pytest.approx(way.y[0, -1], abs=1e-6)


def test_the_tank_takes_over_fitted_constants() -> None:
    prior = prior_constants(TANK)
    other = Constants(replace(prior.vessel, value=300.0), replace(prior.time, value=900.0))
    fitted = with_constants(TANK, other)
    assert fitted.vessel_capacity == pytest.approx(300.0)
    assert fitted.time_constant == 900.0


@pytest.mark.independent(how="numpy's weighted average")
def test_a_thermometer_is_corrected_by_its_comparisons() -> None:
    assert correction([]) is None
    one = correction([(40.6, 41.0, 0.1, 0.0)])
    assert one is not None and (one.value, one.spread) == (pytest.approx(0.4), pytest.approx(0.1))
    found = correction([(40.6, 41.0, 0.1, 0.0), (20.0, 20.2, 0.2, 0.0)])
    assert found is not None
    assert found.value == pytest.approx(np.average([0.4, 0.2], weights=[100, 25]))
    old = correction([(40.6, 41.0, 0.1, 3.0)])
    assert old is not None and old.spread is not None and old.spread > 0.5
