"""A picture's rim as a lens leaves it, and as sharpening does: told apart whatever the scale."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from wetside.figures.place import Rectangle
from wetside.stages.negative.scanner.halos import LIFTED, lifted_rim


def scanned(fine: int, smeared: float, tilt: float = 0.0) -> tuple[np.ndarray, Rectangle]:
    """A frame of patches of many densities in its rebate, under a light that falls off from left to right."""
    rng = np.random.default_rng(8)
    patches = cv2.resize(10 ** -rng.uniform(0.2, 1.2, (12, 18, 3)), None, fx=8 * fine, fy=8 * fine, interpolation=cv2.INTER_NEAREST)  # fmt: skip
    side = 14 * fine
    light = np.full((patches.shape[0] + 2 * side, patches.shape[1] + 2 * side, 3), (0.6, 0.35, 0.2))
    picture = Rectangle(side, side, patches.shape[1], patches.shape[0])
    light[picture.slices] *= patches
    light = cv2.GaussianBlur(light, (0, 0), smeared) * np.linspace(1, 1 - tilt, light.shape[1])[:, None]
    return 60000 * light + rng.normal(0, 60, light.shape), picture


def unsharp(light: np.ndarray, radius: float, amount: float) -> np.ndarray:
    return light + amount * (light - cv2.GaussianBlur(light, (0, 0), radius))


@pytest.mark.independent(how="one drawn frame smeared as by a lens, and the same under unsharp masks")
def test_a_lens_lifts_no_rim_and_an_unsharp_mask_does() -> None:
    plain, picture = scanned(2, 0.8, tilt=0.2)
    assert (lifted_rim(plain, picture) or 1) < LIFTED / 2
    for radius, amount in ((1.5, 0.5), (1.5, 1.2), (3.0, 0.5)):
        assert (lifted_rim(unsharp(plain, radius, amount), picture) or 0) > 2 * LIFTED
    off = picture._replace(x=picture.x + 2, y=picture.y - 2)
    assert (
        (lifted_rim(plain, off) or 1) < LIFTED / 2 < LIFTED < (lifted_rim(unsharp(plain, 1.5, 1.0), off) or 0)
    )


@pytest.mark.independent(
    how="the same frame at one and a half times the scale, smeared and sharpened as much more"
)
def test_what_is_lifted_does_not_depend_on_the_scale() -> None:
    lifts = []
    for fine, times in ((2, 1.0), (3, 1.5)):
        light, picture = scanned(fine, 0.8 * times)
        lifts.append(lifted_rim(unsharp(light, 1.5 * times, 1.0), picture))
    assert lifts[0] == pytest.approx(lifts[1], rel=0.25)


def test_without_rebate_nothing_is_said() -> None:
    light, picture = scanned(2, 0.8)
    assert lifted_rim(light[picture.slices], Rectangle(0, 0, picture.w, picture.h)) is None
