"""Circular statistics against astropy."""

from __future__ import annotations

import numpy as np
import pytest
from astropy.stats import circmean, circvar, rayleightest
from hypothesis import given
from hypothesis import strategies as st

from wetside.laws.statistics.circular import (
    clustering,
    mean_direction,
    rayleigh_p,
    resultant_length,
    von_mises_density,
)

ANGLES = st.lists(st.floats(-20.0, 20.0), min_size=8, max_size=40).map(np.array)


@pytest.mark.independent(how="astropy.stats.circvar, circmean and rayleightest")
@given(ANGLES)
def test_length_direction_and_chance_are_those_of_astropy(angles: np.ndarray) -> None:
    assert float(resultant_length(angles)) == pytest.approx(1 - float(circvar(angles)), abs=1e-9)
    if float(resultant_length(angles)) > 0.01:
        apart = mean_direction(angles) - float(circmean(angles))
        assert np.cos(apart) == pytest.approx(1, abs=1e-9)
    assert rayleigh_p(angles) == pytest.approx(min(1.0, max(0.0, float(rayleightest(angles)))), abs=0.02)


@pytest.mark.independent(how="directions drawn evenly fall under a level as often as it says")
def test_chance_is_evenly_spread_when_directions_are() -> None:
    rng = np.random.default_rng(3)
    chances = np.array([rayleigh_p(rng.uniform(0, 2 * np.pi, 12)) for _ in range(3000)])
    assert (chances < 0.05).mean() == pytest.approx(0.05, abs=0.012)


@pytest.mark.independent(how="numerical integral, and the wrapped normal of the same width near 0")
def test_the_circular_normal_integrates_to_one() -> None:
    angles = np.linspace(-np.pi, np.pi, 20001)
    density = von_mises_density(angles, 1 / 0.2**2)
    assert np.trapezoid(density, angles) == pytest.approx(1, abs=1e-9)
    assert density[10000] == pytest.approx(1 / (0.2 * np.sqrt(2 * np.pi)), rel=0.01)


@pytest.mark.independent(how="the best direction by brute force over 3600 directions, on unrounded angles")
def test_a_cluster_among_strays_is_placed() -> None:
    rng = np.random.default_rng(1)
    angles = np.concatenate([rng.normal(2.0, 0.2, 12), rng.uniform(0, 2 * np.pi, 3)])
    ratio, place = clustering(angles[None], 0.3)
    tried = np.linspace(0, 2 * np.pi, 3600)
    sums = [np.log(0.25 + 0.75 * 2 * np.pi * von_mises_density(angles - t, 1 / 0.09)).sum() for t in tried]
    assert place[0] == pytest.approx(tried[int(np.argmax(sums))], abs=0.2)
    assert ratio[0] == pytest.approx(max(sums), rel=0.15)
