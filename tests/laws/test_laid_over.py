"""Two scans laid over one another: a planted shift comes back, and another picture is not like."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from wetside.laws.image.laid_over import laid_over, likeness, small


def scene(seed: int) -> np.ndarray:
    rough = np.random.default_rng(seed).uniform(0.2, 1.6, (300, 420, 3)).astype(np.float32)
    return cv2.GaussianBlur(rough, (0, 0), 2.0)


@pytest.mark.independent(how="a shift planted by cutting one scene at two places")
def test_a_shift_comes_back_and_the_pictures_lie_over_one_another() -> None:
    whole = scene(1)
    first, second = whole[10:-10, 10:-10], whole[14:-6, 3:-17]
    over, (dx, dy) = laid_over(first, second)
    assert (dx, dy) == pytest.approx((-7, 4), abs=0.1)
    inner = (slice(20, -20), slice(20, -20))
    assert np.abs(over - first)[inner].max() < 0.03
    assert likeness(first, over) > 0.9 > 0.2 > abs(likeness(first, scene(2)[10:-10, 10:-10]))


def test_a_small_picture_keeps_its_form() -> None:
    assert small(scene(3), 210).shape == (150, 210, 3) and small(scene(3), 900).shape == (300, 420, 3)
