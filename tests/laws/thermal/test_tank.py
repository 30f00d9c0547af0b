"""The tank's heat against CoolProp, an ODE integration, and planted constants."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from wetside.laws.thermal.rate import equivalent_time, rate
from wetside.laws.thermal.tank import (
    after_presoaks,
    drifted,
    heat_capacity_of_water,
    mean_over,
    pour_in_temperature,
    presoak_temperature,
    tank_of,
)

props = pytest.importorskip("CoolProp.CoolProp")


@pytest.mark.independent(how="CoolProp's water at 40 °C")
def test_water_holds_the_heat_that_coolprop_gives_it() -> None:
    density = props.PropsSI("D", "T", 313.15, "P", 101325, "Water")
    heat = props.PropsSI("C", "T", 313.15, "P", 101325, "Water")
    assert heat_capacity_of_water(500) == pytest.approx(500e-6 * density * heat, rel=0.002)


@pytest.mark.independent(how="worked figures of a full equilibration, reckoned apart from this code")
@pytest.mark.parametrize(
    ("volume", "mass", "cold", "warm", "presoak"),
    [(500, 200, 38.7, 40.7, 43.9), (500, 350, 37.3, 40.5, 45.9), (300, 350, 35.5, 40.2, 49.2)],
)
def test_pour_in_and_presoak(volume: float, mass: float, cold: float, warm: float, presoak: float) -> None:
    tank = tank_of(volume, mass)
    assert pour_in_temperature(tank, 41.1, 22) == pytest.approx(cold, abs=0.1)
    assert pour_in_temperature(tank, 41.1, 38) == pytest.approx(warm, abs=0.05)
    needed = presoak_temperature(tank, 22, 41.1)
    assert needed == pytest.approx(presoak, abs=0.1)
    assert after_presoaks(tank, 22, needed, 1) == pytest.approx(41.1)


@pytest.mark.independent(how="the differential equation, integrated by scipy")
def test_drift_and_its_mean_solve_the_equation() -> None:
    found = solve_ivp(lambda t, y: -(y - 21) / 3750, (0, 180), [41.1], rtol=1e-10, dense_output=True)
    assert drifted(41.1, 21, 180, 3750) == pytest.approx(found.y[0, -1], abs=1e-6)
    mean = quad(lambda t: found.sol(t)[0], 0, 180)[0] / 180
    assert mean_over(41.1, 21, 180, 3750) == pytest.approx(mean, abs=1e-6)


@pytest.mark.independent(how="numerical quadrature of the rate along straight stretches of temperature")
def test_equivalent_time_is_the_integral_of_the_rate() -> None:
    log = [(10.0, 41.5), (100.0, 40.2), (170.0, 41.0)]
    temperature = lambda t: np.interp(t, *zip(*log))  # noqa: E731
    expected = quad(lambda t: rate(temperature(t), 41.1), 0, 180, points=[10, 100, 170])[0]
    assert equivalent_time(log, 0, 180, 41.1) == pytest.approx(expected, abs=1e-6)


@pytest.mark.independent(how="worked figures: one degree off asks for 17 s more or 16 s less of 3:00")
def test_one_degree_is_worth_seventeen_seconds() -> None:
    assert 180 / rate(40.1, 41.1) - 180 == pytest.approx(17, abs=0.8)
    assert 180 - 180 / rate(42.1, 41.1) == pytest.approx(16, abs=0.8)
