"""A film on a spiral reel, against integration of the arc and against figures printed for typical reels."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from wetside.laws.reel.gauges import GAUGES, area_m2
from wetside.laws.reel.spiral import TURN, angle_at_length, length_to_angle

REELS = st.tuples(st.floats(8.0, 25.0), st.floats(1.8, 3.5))


@pytest.mark.independent(how="the arc r² + r′² integrated numerically")
@given(REELS, st.floats(0.1, 12 * TURN))
def test_the_length_to_an_angle_is_the_integral_of_the_arc(reel: tuple[float, float], theta: float) -> None:
    core, pitch = reel
    a = pitch / TURN
    arc, _ = quad(lambda t: np.hypot(core + a * t, a), 0, theta, epsabs=1e-6, epsrel=1e-9, limit=200)
    assert float(length_to_angle(theta, core, pitch)) == pytest.approx(arc, abs=1e-5)


@pytest.mark.independent(how="there and back through the exact length")
@given(REELS, st.floats(0.0, 1600.0))
def test_the_angle_at_a_length_is_good_to_half_a_millimetre_on_any_reel(
    reel: tuple[float, float], length: float
) -> None:
    core, pitch = reel
    theta = float(angle_at_length(length, core, pitch))
    assert abs(float(length_to_angle(theta, core, pitch)) - length) < 0.5


@pytest.mark.published(
    source="iso-1007", place="36 exposures fit a self-loading reel: 17 to 43 mm in 9 turns of 2.9 mm"
)
def test_nine_turns_of_a_self_loading_reel_hold_about_1_7_metres() -> None:
    assert float(length_to_angle(9 * TURN, 17.0, 2.9)) == pytest.approx(1690, abs=20)
    assert 17.0 + 2.9 / TURN * float(angle_at_length(1690, 17.0, 2.9)) == pytest.approx(43, abs=0.5)


@pytest.mark.independent(how="difference of successive circumferences")
@given(REELS)
def test_each_turn_is_longer_by_the_pitch_times_two_pi(reel: tuple[float, float]) -> None:
    core, pitch = reel
    ends = length_to_angle(np.arange(4) * TURN, core, pitch)
    assert np.diff(np.diff(ends)) == pytest.approx([TURN * pitch] * 2, abs=0.15)


@pytest.mark.independent(how="80 square inches is one roll by convention; a 135-36 is 1.10 of it")
def test_the_area_of_a_135_roll_is_a_little_over_80_square_inches() -> None:
    assert area_m2(GAUGES["135"], 1622) / (80 * 0.0254**2) == pytest.approx(1.10, abs=0.005)


@pytest.mark.independent(how="there and back through the exact length, on the reel the docstring speaks of")
def test_on_a_self_loading_reel_the_short_form_is_good_to_0_17_mm() -> None:
    lengths = np.linspace(0, 1600, 200)
    back = length_to_angle(angle_at_length(lengths, 20.0, 2.85), 20.0, 2.85)
    assert np.abs(back - lengths).max() < 0.175
