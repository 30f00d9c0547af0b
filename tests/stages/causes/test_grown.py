"""Uneven development in pictures: planted on photographs with grey cards it is found, on even ones it is not."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.casts import found

from wetside.stages.causes.signs.grown import summed
from wetside.stages.causes.signs.uneven import (
    certainty,
    clear_by,
    least_size,
    shapes,
    uneven_profile,
    views_of,
)


@pytest.mark.independent(
    how="photographs on invented stocks, one edge developed 22 % less, and the same developed evenly"
)
def test_a_thin_edge_is_found_with_grey_cards_and_even_rolls_are_left_alone() -> None:
    assert found(6, 3, 7, 3, 0.22) >= 4
    assert found(6, 3, 7, 3, 0.0) == 0


@pytest.mark.independent(how="a planted profile on even cards, read back")
def test_a_profile_on_even_cards_is_read_back() -> None:
    rows = 48
    truth = np.log(np.linspace(0.8, 1.0, rows))
    cards = (
        np.exp(truth)[None, :, None, None]
        * np.linspace(0.4, 1.2, 6)[:, None, None, None]
        * np.ones((6, rows, 40, 3))
    )
    profile, error = uneven_profile(cards)
    assert profile is not None and (error < 0.01).all()
    assert profile[:, 1] == pytest.approx(
        truth - truth.mean(), abs=0.005
    )  # its logarithm bends a little, the shape is straight
    assert summed(np.full((4, rows, 40, 3), np.nan)) == pytest.approx(np.zeros((rows, 3)))


def test_a_size_is_read_back_for_every_shape_and_a_layer_by_itself_is_no_development() -> None:
    rows = 48
    for shape in shapes(rows):
        truth = 0.2 * shape
        layers = np.outer(truth, [1.0, 1.05, 0.95])
        levels = np.linspace(0.4, 1.2, 6)[:, None, None, None]
        cards = np.exp(layers)[None, :, None, :] * levels * np.ones((6, rows, 40, 3))
        profile, _ = uneven_profile(cards)
        assert profile is not None and profile[:, 1] == pytest.approx(1.05 * truth, abs=0.01)
        alone = (
            np.exp(np.outer(truth, [1.0, 0.0, 0.0]))[None, :, None, :] * levels * np.ones((6, rows, 40, 3))
        )
        assert uneven_profile(alone)[0] is None


@pytest.mark.independent(how="generalised least squares by numpy's own solver on steps of unequal scatter")
def test_the_filter_is_least_squares_with_each_rows_own_scatter() -> None:
    rng = np.random.default_rng(2)
    spread = np.repeat([0.002, 0.02], [24, 23])
    draws = rng.normal(0, spread, (400, 47))
    weights = certainty(draws)
    slope = np.diff(shapes(48)[1])
    steps = 0.15 * slope + rng.normal(0, spread)
    by_solver = np.linalg.lstsq((slope * np.sqrt(weights))[:, None], steps * np.sqrt(weights), rcond=None)[0][
        0
    ]
    own = (slope * weights) @ steps / ((slope * weights) @ slope)
    assert own == pytest.approx(by_solver)
    assert weights[:20].mean() > 20 * weights[30:].mean()


@pytest.mark.independent(
    how="printed tables of Student's t, from memory: 10.21 at one in a thousand of one side with 3 degrees of freedom, 4.297 with 9"
)
def test_few_frames_must_show_a_shape_more_clearly_than_many() -> None:
    from scipy.special import stdtrit

    assert float(stdtrit(3, 0.999)) == pytest.approx(10.21, abs=0.01)
    assert float(stdtrit(9, 0.999)) == pytest.approx(4.297, abs=0.001)
    assert clear_by(4) > 20 > clear_by(6) > clear_by(8) > clear_by(10) == pytest.approx(6.0, abs=0.02)
    assert clear_by(36) == 6.0
    # few views: what pictures have by themselves bounds it, where an error of few frames is worth nothing
    assert least_size(0.02, 5.0) == pytest.approx(3.5 * np.hypot(0.02, 0.10 / np.sqrt(5)))
    assert least_size(0.02, 5.0) < 0.02 * clear_by(5)
    assert least_size(0.002, 20.0) == pytest.approx(0.012)


@pytest.mark.independent(
    how="one picture three times and another one; cards without a thing on them are as many as they are"
)
def test_a_picture_that_comes_again_counts_once_and_a_profile_does_not_make_pictures_alike() -> None:
    rng = np.random.default_rng(4)
    one, other = (
        np.kron(rng.uniform(0.3, 1.2, (8, 8)), np.ones((6, 8)))[..., None] * np.ones(3) for _ in range(2)
    )
    assert views_of(np.stack([one, one, one, other])) == pytest.approx(2.0)
    thin = (
        np.linspace(0.7, 1.0, 48)[None, :, None, None]
        * np.linspace(0.4, 1.2, 6)[:, None, None, None]
        * np.ones((6, 48, 64, 3))
    )
    assert views_of(thin) == pytest.approx(6.0)


@pytest.mark.independent(
    how="five pictures whose own slopes or thin edges scatter alike about the same size, drawn"
)
def test_a_slope_that_few_pictures_share_is_their_skies_and_a_thin_edge_is_not() -> None:
    rng = np.random.default_rng(8)

    def roll(shape: np.ndarray) -> np.ndarray:
        sizes = rng.normal(0.3, 0.08, 5)
        grain = rng.normal(0, 0.01, (5, 48, 40, 3))
        return np.exp(np.multiply.outer(sizes, shape)[:, :, None, None] + grain) * rng.uniform(0.4, 1.0, (5, 1, 1, 1))  # fmt: skip

    slope, edge = shapes(48)[8], -shapes(48)[2]
    assert uneven_profile(roll(slope))[0] is None
    assert uneven_profile(roll(edge))[0] is not None
