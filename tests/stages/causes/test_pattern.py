"""Where marks repeat: planted positions on reels, at frames, at random; and the answer that nothing can be said."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.reel.spiral import TURN, angle_at_length, length_to_angle
from wetside.stages.causes.signs.pattern import ReelHint, Strip, merged, merged_across, pattern

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


@pytest.mark.independent(how="planted at one place of the frame, two strays among ten, five rolls")
def test_marks_at_one_place_across_the_film_as_well_need_fewer_to_show_the_frame() -> None:
    answers = []
    for seed in range(5):
        rng = np.random.default_rng(40 + seed)
        frames = rng.choice(36, 8, replace=False)
        along = [60 + 38.0 * int(i) + 15 + rng.normal(0, 2.3) for i in frames]
        across = (0.4 + rng.normal(0, 0.04, 8)).tolist()
        along += rng.uniform(60, 1400, 2).tolist()
        answers.append(pattern(along, STRIP, REEL, rng, [*across, *rng.random(2).tolist()]).answer)
    assert answers.count("frame") >= 4


@pytest.mark.independent(how="uniform random places along one edge, 12 rolls: false alarms counted")
def test_marks_at_random_along_an_edge_are_seldom_given_a_cause() -> None:
    wrong = 0
    for seed in range(12):
        rng = np.random.default_rng(300 + seed)
        along = [60 + 38.0 * int(rng.integers(36)) + rng.uniform(0, 36) for _ in range(10)]
        across = rng.uniform(0.02, 0.12, 10).tolist()
        wrong += pattern(along, STRIP, REEL, rng, across).answer not in ("scattered", "cannot say")
    assert wrong <= 2


def test_a_place_across_that_is_not_known_leaves_all_of_them_out() -> None:
    assert merged_across([10.0, 40.0, 10.8], [0.2, 0.5, 0.4]) == pytest.approx([0.3, 0.5])
    assert merged_across([10.0, 40.0], [0.2, None]) is None and merged_across([10.0], None) is None


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
    assert abs(np.exp(1j * np.asarray(angles)).mean()) > 0.97
    assert found.as_json()["fit"] == found.fit.as_json()


def strongest_period(places: list[float], shortest: float, longest: float) -> float:
    """Period [mm] at which a train of places has the most power: numpy's FFT of their counts on a grid of 0.1 mm."""
    counts = np.zeros(1 << 18)
    np.add.at(counts, np.round(np.asarray(places) / 0.1).astype(int), 1.0)
    power = np.abs(np.fft.rfft(counts)) ** 2
    frequency = np.fft.rfftfreq(len(counts), 0.1)
    band = (frequency >= 1 / longest) & (frequency <= 1 / shortest)
    return float(1 / frequency[band][power[band].argmax()])


@pytest.mark.independent(how="numpy's FFT of the marks' places finds the pitch of the repeat that is named")
@pytest.mark.parametrize(("step", "hole", "answer"), [(4.75, 4.75, "perforation"), (38.0, 4.75, "frame")])
def test_the_pitch_of_what_is_named_is_the_one_that_a_periodogram_finds(
    step: float, hole: float, answer: str
) -> None:
    rng = np.random.default_rng(12)
    count = 20
    steps = rng.choice(int(1300 / step), count, replace=False)
    places = [float(60 + step * n + 0.3 * step + rng.normal(0, 0.03 * step)) for n in steps]
    strip = Strip(60.0, 38.0, 36.0, 36, hole, None, 0.3)
    found = strongest_period(places, 0.8 * step, 1.25 * step)
    assert found == pytest.approx(step, rel=0.004)
    assert pattern(places, strip, REEL, rng).answer == answer
    other = strongest_period(places, 20.0, 60.0) if answer == "perforation" else found
    power = abs(np.exp(2j * np.pi * np.array(places) / other).mean())
    assert (power > 0.8) == (answer == "frame")  # and no frame's length gathers marks of the holes as well


@pytest.mark.independent(
    how="numpy's FFT of the marks' places once the fitted reel has turned them into turns"
)
def test_the_turn_of_the_fitted_reel_is_the_period_that_a_periodogram_finds() -> None:
    rng = np.random.default_rng(5)
    places = [
        float(length_to_angle(2.0 + TURN * turn + rng.normal(0, 0.15), 20.8, 2.86)) for turn in range(9)
    ]
    places = [p for p in places if 60 < p < 1400]
    places += [p + 3.0 for p in places[::2]]
    found = pattern(places, STRIP, REEL, rng)
    assert found.answer == "one angle" and found.fit is not None
    turns = angle_at_length(np.array(places), found.fit.core_radius_mm, found.fit.pitch_mm) / TURN
    assert strongest_period(list(turns * 100), 60.0, 160.0) == pytest.approx(100.0, rel=0.02)
    gaps = np.diff(sorted(p for p in places if p in places[:9]))
    assert np.median(np.diff(gaps)) == pytest.approx(
        TURN * 2.86, abs=6.0
    )  # and no steady pitch: it grows along the film


def test_with_one_hole_a_frame_marks_at_it_are_the_frames() -> None:
    one_hole = Strip(0.0, 25.35, 17.0, 12, 25.35, None, 0.3)
    rng = np.random.default_rng(3)
    places = [7.0 + 25.35 * i + float(rng.normal(0, 0.4)) for i in range(12)]
    places += [13.0 + 25.35 * i + float(rng.normal(0, 0.4)) for i in range(0, 12, 2)]
    assert pattern(places, one_hole, REEL, rng).answer == "frame"
