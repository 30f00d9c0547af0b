"""Soft light at one place of few pictures is found there; skies, dark corners, and a spot in one picture, or at other places, are none."""

from __future__ import annotations

import numpy as np
import pytest
from tests.stages.causes.test_at_holes import TALL, WIDE, things

from wetside.stages.causes.signs.soft_light import soft_spots

X, Y, REACH = 76.0, 30.0, 5.0


def spot(x: float, y: float) -> np.ndarray:
    """A soft round spot (h, w), 1 in its middle."""
    v, u = np.mgrid[0:TALL, 0:WIDE]
    return np.exp(-((u - x) ** 2 + (v - y) ** 2) / (2 * REACH**2))


@pytest.fixture(scope="module")
def pictures() -> np.ndarray:
    rng = np.random.default_rng(31)
    return np.stack([things(rng).mean(axis=2) for _ in range(9)])


@pytest.mark.independent(how="a bell of light laid by hand at one place of eight of nine drawn pictures")
def test_soft_light_that_stays_is_found_at_its_place(pictures: np.ndarray) -> None:
    shows = np.arange(9) != 4
    lit = pictures + 0.3 * spot(X, Y) * shows[:, None, None]
    [found] = soft_spots(lit, np.ones(9))
    assert np.hypot(found.x - X, found.y - Y) < REACH and 2.5 < found.reach < 9
    assert found.shown[shows].mean() > 0.7 and found.inside((TALL, WIDE), (0.0, 1.5))[round(Y), round(X)]
    [turned] = soft_spots(lit[:, ::-1], np.ones(9))
    assert abs(TALL - 1 - turned.y - Y) < 3


@pytest.mark.independent(
    how="drawn pictures alone, under a sky, with dark corners, with spots that move, with one large spot, by hand"
)
def test_what_does_not_stay_or_is_no_spot_is_not_claimed(pictures: np.ndarray) -> None:
    counts, rng = np.ones(9), np.random.default_rng(2)
    v, u = np.mgrid[0:TALL, 0:WIDE]
    assert soft_spots(pictures, counts) == []
    assert soft_spots(pictures + 0.8 * (v < 30), counts) == []
    corners = ((u - WIDE / 2) ** 2 + (v - TALL / 2) ** 2) / (WIDE / 2) ** 2
    assert soft_spots(pictures - 0.1 * corners, counts) == []
    moving = [one + 0.3 * spot(rng.uniform(0, WIDE), rng.uniform(0, TALL)) for one in pictures]
    assert soft_spots(np.stack(moving), counts) == []
    alone = pictures + 1.0 * spot(X, Y) * (np.arange(9) == 2)[:, None, None]
    assert soft_spots(alone, counts) == []
    assert soft_spots(pictures - 0.3 * spot(X, Y), counts) == []  # thin is no light
