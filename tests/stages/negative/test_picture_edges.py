"""Where one frame's picture lies, beside neighbours and over dark stripes."""

import cv2
import numpy as np
import pytest

from wetside.stages.negative.found.picture import picture_edges

BASE = np.array([[0.2, 0.6, 0.85]])


def film(places: list[tuple[int, int]], wide: int = 300, tall: int = 400) -> np.ndarray:
    """Density (tall, wide, 3) [D]: base, and exposed film over rows 60 to 340 of the columns given."""
    rng = np.random.default_rng(wide + sum(left for left, _ in places))
    density = np.tile(BASE[0], (tall, wide, 1)) + rng.normal(0, 0.004, (tall, wide, 3))
    for left, right in places:
        density[60:340, left:right] += rng.uniform(0.2, 1.2, (280, right - left, 1))
    return density.astype(np.float32)


@pytest.mark.independent("drawn")
@pytest.mark.parametrize("gap", [4, 6, 9])
@pytest.mark.parametrize("sliver", [2, 8, 25])
def test_a_neighbour_behind_a_narrow_gap_is_no_part_of_the_picture(gap: int, sliver: int) -> None:
    own = (sliver + gap, 300 - sliver - gap)
    density = film([(0, sliver), own, (300 - sliver, 300)])
    edges = picture_edges(density, BASE)
    assert edges is not None
    assert np.allclose(edges, (own[0], 60, own[1], 340), atol=1.0)


@pytest.mark.independent("drawn")
@pytest.mark.parametrize("turned", [False, True])
def test_a_neighbour_at_one_end_alone(turned: bool) -> None:
    density = film([(0, 12), (18, 270)])
    edges = picture_edges(np.ascontiguousarray(density.transpose(1, 0, 2)) if turned else density, BASE)
    assert edges is not None
    left, top, right, bottom = edges
    found = (top, left, bottom, right) if turned else edges
    assert np.allclose(found, (18, 60, 270, 340), atol=1.0)


@pytest.mark.independent("drawn")
def test_a_black_stripe_in_a_picture_that_shows_its_rebate_is_kept() -> None:
    density = film([(30, 45), (52, 270)])
    edges = picture_edges(density, BASE)
    assert edges is not None
    assert np.allclose(edges, (30, 60, 270, 340), atol=1.0)


def under_a_mask(density: np.ndarray, open_: tuple[int, int, int, int], smear: float) -> np.ndarray:
    """Density under a mask that leaves x0, y0, x1, y1 open, smeared as a lens smears light."""
    left, top, right, bottom = open_
    light = np.full_like(density, 1e-5)
    light[top:bottom, left:right] = 10.0 ** -density[top:bottom, left:right]
    return (-np.log10(cv2.GaussianBlur(light, (0, 0), smear) if smear else light)).astype(np.float32)


@pytest.mark.independent("drawn")
@pytest.mark.parametrize("smear", [0.0, 0.7, 1.2])
def test_a_picture_under_a_mask_reaches_to_the_mask(smear: float) -> None:
    density = under_a_mask(film([(30, 270)]), (44, 8, 251, 327), smear)
    edges = picture_edges(density, BASE)
    assert edges is not None
    assert np.allclose(edges, (44, 60, 251, 327), atol=0.7)


@pytest.mark.independent("drawn")
@pytest.mark.parametrize("rebate", [5, 9])
def test_a_narrow_rebate_between_picture_and_mask_is_no_picture(rebate: int) -> None:
    density = under_a_mask(film([(30, 270)]), (30 - rebate, 8, 270 + rebate, 392), 0.7)
    edges = picture_edges(density, BASE)
    assert edges is not None
    assert np.allclose(edges, (30, 60, 270, 340), atol=1.0)
