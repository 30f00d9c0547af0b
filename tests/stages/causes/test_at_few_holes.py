"""Plumes at a few holes are found where holes are seen; what knows nothing of the holes, or goes on further in, is none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.stages.causes.test_at_holes import HOLE, PITCH, plumed, seen, things

from wetside.stages.causes.signs.at_few_holes import at_few_holes, mixture

PERF_MM = 4.75


@pytest.fixture(scope="module")
def pictures() -> list[np.ndarray]:
    rng = np.random.default_rng(23)
    return [things(rng) for _ in range(9)]


@pytest.mark.independent(
    how="plumes of 30 % laid by hand beside every fourth hole of drawn pictures, none beside the rest"
)
def test_plumes_at_a_fourth_of_the_holes_are_found_there(pictures: list[np.ndarray]) -> None:
    marked = seen([plumed(one, 0.3, 0.0, every=4) for one in pictures])
    [told] = at_few_holes(marked, PERF_MM, np.ones(9))
    assert not told.below and 0.1 < told.share < 0.45 and told.grows is None
    assert told.size == pytest.approx(np.log(1.3), rel=0.4)
    places = [(box[0] + box[2] / 2) * 120 for own in told.marks for box, _ in own]
    with_one = np.arange(HOLE - PITCH, 140, 4 * PITCH)
    assert len(places) >= 4
    assert np.mean([np.abs(with_one - at).min() < 2 for at in places]) > 0.8
    [turned] = at_few_holes([replace(one, above=one.above[::-1]) for one in marked], PERF_MM, np.ones(9))
    assert turned.below and all(box[1] > 0.7 for own in turned.marks for box, _ in own)


@pytest.mark.independent(
    how="the same pictures without plumes, with plumes half a pitch away, thin ones, bars over the whole height, by hand"
)
def test_what_does_not_come_with_the_holes_is_not_claimed(pictures: list[np.ndarray]) -> None:
    counts = np.ones(9)

    def told(made: list[np.ndarray], at: float | None = HOLE) -> int:
        return len(at_few_holes(seen(made, at), PERF_MM, counts))

    assert told(pictures) == 0
    few = [plumed(one, 0.3, 0.0, every=4) for one in pictures]
    assert told(few) == 1
    assert told(few, HOLE + PITCH / 2) == 0
    assert told(few, None) == 0
    assert told([plumed(one, -0.3, 0.0, every=4) for one in pictures]) == 0
    assert told([plumed(one, 0.3, 0.0, every=4, deep=100.0) for one in pictures]) == 0
    assert at_few_holes(seen(few[:4]), PERF_MM, np.ones(4)) == []
    assert at_few_holes(seen(few), PERF_MM, counts, [True]) == []


@pytest.mark.independent(how="the likelihood of a mixture of two, by hand")
def test_a_hole_without_a_plume_takes_nothing_from_one_that_has_it() -> None:
    alone, share = mixture(np.array([8.0, -9.0, -9.0, -9.0, -9.0]), np.ones(5))
    assert share == 0.2 and alone == pytest.approx(4 * np.log(0.8) + np.log(0.8 + 0.2 * np.exp(8)), abs=0.01)
    assert mixture(np.full(5, -4.0), np.ones(5))[0] < 0
