"""Bands over the whole height of pictures are found where a roll has more than things in pictures give; a pole is none."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading
from wetside.stages.causes.signs.bands import (
    Band,
    bands_in,
    bands_of_roll,
    contrast,
    profiles_along,
    with_bands,
)
from wetside.stages.causes.signs.film import Lie

TALL, WIDE = 80, 120


def things(rng: np.random.Generator) -> np.ndarray:
    """A drawn picture (h, w, 3) [D above base] of things that hide each other, none as tall as the picture."""
    picture = np.full((TALL, WIDE, 3), rng.uniform(0.4, 1.0), np.float32)
    for _ in range(10):
        x, y, w, h = (int(v) for v in rng.uniform(0, 1, 4) * (WIDE, TALL, 40, 50))
        picture[y : y + h, x : x + w] = rng.uniform(0.3, 1.2, 3)
    return picture + rng.normal(0, 0.01, picture.shape).astype(np.float32)


def banded(above: np.ndarray, at: float, half: float, more: float) -> np.ndarray:
    """The picture with development stronger by a share along a stretch with soft sides."""
    part = np.clip((half - np.abs(np.arange(WIDE) - at)) / (1.2 * half) + 0.5, 0, 1)
    return above * (1 + more * part[None, :, None]).astype(np.float32)


@pytest.mark.independent(
    how="development stronger by 0.3 along known stretches of drawn pictures; the same without; a pole of half the height"
)
def test_bands_are_found_where_they_lie_and_things_in_pictures_are_none() -> None:
    rng = np.random.default_rng(5)
    made = [things(rng) for _ in range(6)]
    places = rng.uniform(20, 100, 6)
    counts, bases = np.ones(6), [np.zeros(3, np.float32)] * 6
    assert bands_of_roll(made, bases, counts) == [[]] * 6
    marked = [banded(one, at, 5, 0.3) for one, at in zip(made, places)]
    found = bands_of_roll(marked, bases, counts)
    near = [any(abs(band.at * WIDE - at) < 4 for band in own) for own, at in zip(found, places)]
    assert sum(near) >= 4 and sum(map(len, found)) <= 8
    hit = next(own[0] for own, seen in zip(found, near) if seen)
    assert 0.1 < hit.step < np.log(1.3) + 0.1 and (hit.delta > 0).all() and 0 < hit.scatter < 0.1
    assert bands_of_roll(marked, [None] * 6, counts) == [[]] * 6  # above no base nothing is known
    assert bands_of_roll(marked, bases, counts / 6) == [[]] * 6  # six pictures of one view are one
    pole = made[0].copy()
    pole[:40, 50:60] *= 1.5
    assert bands_in(pole) == bands_in(made[0]) == []


@pytest.mark.independent(how="a bump of known height on a straight profile, by hand")
def test_the_contrast_of_a_stretch_is_its_height_over_both_sides() -> None:
    away = np.abs(np.arange(100) - 40.0)
    bump = 0.2 * (away <= 6) + 0.01 * np.arange(100)
    assert contrast(bump[None], 5.0)[0, 40] == pytest.approx(0.2, abs=0.02)
    flat = np.full((TALL, WIDE, 3), 0.7, np.float32)
    assert np.ptp(profiles_along(banded(flat, 60, 8, 0.25)), axis=1) == pytest.approx(
        np.full(6, np.log(1.25)), abs=0.01
    )
    assert profiles_along(np.full((TALL, WIDE, 3), np.nan)) == pytest.approx(np.zeros((6, WIDE)))


def test_a_band_is_a_mark_from_rim_to_rim_with_a_place_along_the_film_and_none_across() -> None:
    picture = Rectangle(10, 20, 600, 400)
    band = Band(0.5, 0.05, 0.2, 0.02, np.array([0.1, 0.12, 0.11]))
    read = with_bands(
        FrameReading("a.tif", picture), Rectangle(20, 30, 580, 380), [band], 2, Lie(0.0, 38.0, 16.0)
    )
    [mark] = read.marks
    assert (mark.kind, mark.edge, mark.across, mark.box.h) == ("band", "soft", None, 380)
    assert mark.film_mm == pytest.approx(38.0 + 300 / 16, abs=0.1) and mark.spread is not None
    assert mark.spread.r == pytest.approx(0.01)
