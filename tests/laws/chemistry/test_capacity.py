"""Capacity by area, keeping and use: against the batch limit, against trials, and against each other."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from wetside.figures.figure import Figure
from wetside.laws.chemistry.capacity import (
    KEEPING,
    ROLL_AREA,
    agent_used,
    capacity_area,
    left_to_do,
    still_good,
    time_for_use,
)
from wetside.laws.chemistry.volumes import (
    loaded,
    reel_share,
    volume_for_area,
    volume_to_cover,
)


@pytest.mark.published(source="bench-batch", place="16 rolls of 80 in² in 5 L")
def test_five_litres_do_sixteen_rolls() -> None:
    assert capacity_area(5000).value / ROLL_AREA == pytest.approx(16, abs=0.05)


@pytest.mark.independent(how="worked figures: 1.10 g/m² of 3.9 g/L gives 4.8, 2.9 and 1.5 % a roll")
@pytest.mark.parametrize(("volume", "percent"), [(300, 4.8), (500, 2.9), (1000, 1.5)])
def test_agent_used_by_a_roll(volume: float, percent: float) -> None:
    one, other = agent_used(ROLL_AREA, volume)
    assert 100 * one.value == pytest.approx(percent, abs=0.06)
    by_mass = 1.10 * ROLL_AREA / 1e6 / (3.9 * volume / 1000)
    assert one.value == pytest.approx(by_mass, rel=0.05)
    assert other.value > one.value  # the two estimates disagree, and both are said


@pytest.mark.independent(how="a hundred thousand trials of capacity and chance")
@pytest.mark.parametrize(("done", "good"), [(0.0, 1.0), (40_000.0, 0.8), (150_000.0, 0.5), (400_000.0, 1.0)])
def test_what_is_left_is_the_mean_of_trials(done: float, good: float) -> None:
    capacity = Figure(100_000, 33_000, "mm²", "bench-batch")
    draw = np.random.default_rng(1)
    left = np.maximum(0, draw.normal(100_000, 33_000, 100_000) - done) * (draw.random(100_000) < good)
    found = left_to_do(capacity, done, good)
    assert found.value == pytest.approx(left.mean(), abs=300)
    assert found.spread == pytest.approx(left.std(), abs=500)


def test_what_is_left_only_falls_and_never_ends_at_a_cliff() -> None:
    capacity = capacity_area(500)
    left = [left_to_do(capacity, done, 1.0).value for done in np.linspace(0, 3 * capacity.value, 60)]
    assert all(a > b >= 0 for a, b in pairwise(left))
    assert left[20] > 0


@pytest.mark.independent(how="quantiles of a log-normal: half at the printed days, 84 % one factor earlier")
@pytest.mark.parametrize("key", list(KEEPING))
def test_keeping_is_half_at_its_days(key: tuple[str, str]) -> None:
    keeping = KEEPING[key]
    assert still_good(key[0], keeping.days, key[1]) == pytest.approx(0.5)
    assert still_good(key[0], keeping.days / keeping.factor, key[1]) == pytest.approx(0.8413, abs=1e-3)
    assert still_good(key[0], 0, key[1]) == 1.0


@pytest.mark.published(source="bench-keeping", place="fixer: full 6 months, part-full 1 month, open 7 days")
def test_fixer_keeps_as_its_supplier_prints() -> None:
    assert [KEEPING["fixer", bottle].days for bottle in ("full", "half", "open")] == [180, 30, 7]


@pytest.mark.independent(how="∫ of a rate that falls with the agent: the same work is done")
def test_a_used_developer_asks_for_its_time() -> None:
    found = time_for_use(180, Figure(0.125, 0.03, "", "inference"))
    assert found.value * (1 - 0.125) == pytest.approx(180)
    step = 1e-4
    slope = (180 / (1 - 0.125 - step) - 180 / (1 - 0.125 + step)) / (2 * step)
    assert found.spread == pytest.approx(0.03 * slope, rel=1e-4)


@pytest.mark.independent(how="a stack of mixed reels is as tall as the sum of its reels")
def test_a_tank_is_filled_to_cover_its_reels() -> None:
    both = volume_to_cover(600, 2, [loaded("135"), loaded("135")])
    assert both.value == pytest.approx(600)
    mixed = volume_to_cover(600, 2, [loaded("135"), loaded("16still")])
    assert mixed.value == pytest.approx(300 + 300 * reel_share("16still"))
    assert 0.5 < reel_share("16still") < 0.65


@pytest.mark.published(source="bench-batch", place="312 mL a roll of 80 in²")
def test_the_area_of_a_long_roll_asks_for_its_volume() -> None:
    roll = loaded("135", ROLL_AREA / 34.975)
    assert volume_for_area([roll]).value == pytest.approx(312)
    assert math.isclose(volume_for_area([roll, roll]).value, 624)
