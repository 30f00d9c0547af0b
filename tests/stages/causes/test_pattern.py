"""Where marks repeat: planted positions on reels, at frames, at random; and the answer that nothing can be said."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.reel.spiral import TURN, angle_at_length, length_to_angle
from wetside.laws.statistics.circular import resultant_length
from wetside.stages.causes.pattern import ReelHint, Strip, merged, pattern

STRIP = Strip(60.0, 38.0, 36.0, 36, None, None, 1.0)
REEL = ReelHint(20.0, 2.85)


def on_one_angle(rng: np.random.Generator, count: int, core: float, pitch: float) -> list[float]:
    """Marks on one angle of a reel whose true figures differ from the hint, 20 % strays, 15° of spread."""
    places = []
    turn = 0
    while len(places) < count and turn < 40:
        s = float(length_to_angle(1.0 + TURN * (turn % 9) + rng.normal(0, 0.26), core, pitch)) + rng.normal(
            0, 1.0
        )
        if 60 < s < 1400:
            places.append(s)
        turn += 1
    for i in range(len(places) // 5):
        places[i] = float(rng.uniform(60, 1400))
    return places


@pytest.mark.independent(how="planted angle on 12 reels, core and pitch off the hint")
def test_one_angle_of_the_reel_is_found_and_seldom_taken_for_another() -> None:
    answers = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        places = on_one_angle(rng, 16, 20 + rng.normal(0, 0.7), 2.85 * (1 + rng.normal(0, 0.01)))
        answers.append(pattern(places, STRIP, REEL, rng).answer)
    assert answers.count("one angle") >= 8
    assert sum(a in ("frame", "perforation") for a in answers) <= 1


@pytest.mark.independent(how="planted phase in the frame")
def test_frame_locked_marks_are_called_so() -> None:
    rng = np.random.default_rng(2)
    places = [60 + 38.0 * i + 11 + rng.normal(0, 0.8) for i in rng.choice(36, 14, replace=False)]
    assert pattern(places, STRIP, REEL, rng).answer == "frame"


@pytest.mark.independent(how="uniform random places, 20 rolls: false alarms counted")
def test_marks_at_random_are_seldom_given_a_cause() -> None:
    wrong = 0
    for seed in range(20):
        rng = np.random.default_rng(100 + seed)
        places = [60 + 38.0 * int(rng.integers(36)) + rng.uniform(0, 36) for _ in range(14)]
        wrong += pattern(places, STRIP, REEL, rng).answer not in ("scattered", "cannot say")
    assert wrong <= 2


def test_few_marks_or_no_reel_cannot_say() -> None:
    rng = np.random.default_rng(1)
    few = pattern([100, 200, 300], STRIP, REEL, rng)
    assert few.answer == "cannot say" and few.marks == 3 and "reel" in few.would_help
    assert pattern([float(v) for v in range(100, 1000, 80)], STRIP, None, rng).answer == "cannot say"


def test_marks_that_touch_are_one_event() -> None:
    assert merged([10.0, 10.8, 11.6, 40.0]) == pytest.approx([10.8, 40.0])


@pytest.mark.independent(
    how="planted on a reel of 21.2 mm and 2.88 mm, hinted at 20 and 2.85: a turn's length is what shows"
)
def test_the_fitted_reel_lays_the_marks_on_top_of_one_another() -> None:
    rng = np.random.default_rng(3)
    places = [float(length_to_angle(2.0 + TURN * turn, 21.2, 2.88)) for turn in range(9)]
    places = [p for p in places if 60 < p < 1400] + [300.0, 777.0]
    found = pattern(places, STRIP, ReelHint(20.0, 2.85, 1.0), rng)
    assert found.answer == "one angle" and found.fit is not None
    angles = angle_at_length(np.array(places[:-2]), found.fit.core_radius_mm, found.fit.pitch_mm)
    assert resultant_length(angles) > 0.97
    assert found.as_json()["fit"] == found.fit.as_json()
