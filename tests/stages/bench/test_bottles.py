"""What a bottle can still do: by area and age, with a spread, or not at all."""

from __future__ import annotations

import pytest

from wetside.laws.chemistry.capacity import ROLL_AREA
from wetside.stages.bench.bottles import bath_state

BATH = {"bath": "developer 1", "role": "developer", "process": "ecn-2", "volume_ml": 1000.0, "age_days": 5.0, "area_m2": 0.0}  # fmt: skip


def test_two_short_rolls_spend_what_one_long_roll_does() -> None:
    one = bath_state({**BATH, "area_m2": 0.0516})
    two = bath_state({**BATH, "area_m2": 0.0258}, extra=25_800)
    assert one["left"] == two["left"]


@pytest.mark.published(source="bench-batch", place="312 mL a roll")
def test_a_fresh_litre_is_good_for_about_three_rolls() -> None:
    fresh = bath_state({**BATH, "age_days": 0.0})
    assert fresh["left"]["value"] / ROLL_AREA == pytest.approx(1000 / 312, rel=0.01)
    assert fresh["left"]["spread"] > 0 and fresh["longer"] is None


def test_an_old_and_used_developer_asks_for_more_time_and_is_advised_against() -> None:
    tired = bath_state({**BATH, "volume_ml": 500.0, "area_m2": 3 * ROLL_AREA / 1e6, "age_days": 30.0})
    assert tired["works_as_mixed"] < 0.2
    assert tired["longer"]["from_s"] < tired["longer"]["to_s"]
    assert tired["longer"]["advised_against"] and "mix it fresh" in tired["longer"]["say"]


@pytest.mark.parametrize("role", ["bleach", "stop", "fixer", "mystery"])
def test_a_bath_without_a_figure_says_so_and_names_its_test(role: str) -> None:
    state = bath_state({**BATH, "role": role})
    assert state["left"]["cannot_say"] and state["test"]
