"""A frame at working size: what is asked of its steps is what its densities say."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.figures.flags import Left
from wetside.figures.scan import Scan
from wetside.stages.negative.scanner.working import STEP, Working, light_of, working


@pytest.mark.independent(how="comparison of the densities themselves, limits on steps and between them")
def test_what_lies_under_or_over_a_limit_is_told_by_steps_as_by_densities() -> None:
    rng = np.random.default_rng(4)
    kept = rng.integers(-300, 1200, (40, 40, 3)).astype(np.int16)
    frame = Working("n1.tif", kept, np.zeros((40, 40), np.uint16), 1.0, 40, 40)
    for number in range(60):
        limits = (rng.integers(-200, 1100, 3) + (number % 2) * rng.random(3)) * float(STEP)
        own = limits.astype(np.float32)
        assert (frame.under(limits) == (frame.density < own).all(axis=2)).all()
        assert (frame.over(float(limits[0])) == (frame.density > own[0]).all(axis=2)).all()


@pytest.mark.independent(how="planted codes and their logarithms by hand")
def test_codes_that_are_no_numbers_are_left_out_and_the_others_keep_their_density() -> None:
    pixels = np.full((4, 4, 3), 0.1, np.float32)
    pixels[0, 0, 1], pixels[1, 1, 2], pixels[2, 2, 0] = np.nan, np.inf, -np.inf
    frame = working(Scan("n1.tif", pixels, 1.0, 32, "linear"), light_of(None, None))
    assert np.argwhere(frame.mask & int(Left.NOT_FINITE)).tolist() == [[0, 0], [1, 1], [2, 2]]
    assert frame.density[frame.mask == 0] == pytest.approx(1.0, abs=1e-3)
    assert np.isfinite(frame.density).all()
