"""A turned frame against planted truth: the scanner's shading comes out, the film's own unevenness does not leak into it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from wetside.figures.finding import CannotSay
from wetside.stages.negative.scanner.turned import Shading, scanner_shading


def film(rng: np.random.Generator, shape: tuple[int, int] = (300, 420)) -> np.ndarray:
    """A picture with a cast of its own: denser to the right by 0.1 D in blue."""
    field = np.zeros((*shape, 3), np.float32)
    for size in (5, 12, 40):
        coarse = rng.normal(0, 0.12, (size, size, 3)).astype(np.float32)
        field += cv2.resize(coarse, shape[::-1], interpolation=cv2.INTER_CUBIC)
    cast = np.linspace(-0.05, 0.05, shape[1])[None, :, None] * np.array([0.0, 0.2, 1.0])
    return 0.9 + field + cast


def shading(shape: tuple[int, int], slope: float, fall: float) -> np.ndarray:
    y, x = np.meshgrid(np.linspace(-0.5, 0.5, shape[0]), np.linspace(-0.5, 0.5, shape[1]), indexing="ij")
    return ((slope * x)[..., None] * np.array([1.0, 0.0, -0.5]) + (fall * (x * x + y * y))[..., None]).astype(
        np.float32
    )


@pytest.mark.independent(
    how="a slope and a fall of the light planted under twelve films with casts of their own"
)
def test_the_scanners_slope_is_found_and_the_films_cast_is_not_taken_for_it() -> None:
    errors = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        negative, light = film(rng), shading((300, 420), 0.06, 0.08)
        moved = np.roll(
            negative[::-1, ::-1], (int(rng.integers(-4, 5)), int(rng.integers(-4, 5))), axis=(0, 1)
        )
        noise = rng.normal(0, 0.01, (2, *negative.shape))
        found = scanner_shading(negative + light + noise[0], moved + light + 0.03 + noise[1])
        assert isinstance(found, Shading)
        errors.append(found.slopes()[0] - np.array([0.06, 0.0, -0.03]))
        # The fall to all corners is alike after half a turn: nothing of it is claimed.
        assert abs(float(found.field[20, 20].mean() + found.field[-20, -20].mean())) < 0.01
    assert np.abs(errors).max() < 0.01


def test_two_different_frames_are_refused() -> None:
    one, other = film(np.random.default_rng(1)), film(np.random.default_rng(2))
    assert isinstance(scanner_shading(one, other), CannotSay)
    assert isinstance(scanner_shading(one, one[:200]), CannotSay)
    # The same scan twice was not turned.
    assert isinstance(scanner_shading(one, one), CannotSay)
