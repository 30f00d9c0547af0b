"""Layers of a picture worked on together: against numpy's own over the last axis."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.image.layers import chosen_pixels, farthest, half_size, highest, lowest, medians


@pytest.mark.independent(how="numpy.median")
@pytest.mark.parametrize("many", [1, 2, 3, 60, 61])
def test_medians_of_layers_are_numpys_and_leave_what_they_were_given(many: int) -> None:
    values = np.random.default_rng(many).normal(size=(many, 3)).astype(np.float32)
    given = values.copy()
    assert (medians(values) == np.median(values, axis=0)).all() and (values == given).all()


@pytest.mark.independent(how="numpy's choice by a mask")
def test_chosen_pixels_are_those_of_the_mask_in_order() -> None:
    rng = np.random.default_rng(6)
    layers, chosen = rng.normal(size=(9, 12, 3))[2:8, 1:10], rng.random((6, 9)) < 0.4
    assert (chosen_pixels(layers, chosen) == layers[chosen]).all()


@pytest.mark.independent(how="numpy's mean over cells")
def test_half_size_is_the_mean_of_whole_cells() -> None:
    layers = np.random.default_rng(1).normal(size=(7, 10, 3)).astype(np.float32)
    cells = layers[:6].reshape(3, 2, 5, 2, 3).mean(axis=(1, 3))
    assert half_size(layers) == pytest.approx(cells, abs=1e-6)


@pytest.mark.independent(how="numpy's reductions along the last axis")
def test_highest_lowest_and_farthest_are_reductions_over_the_layers() -> None:
    rng = np.random.default_rng(2)
    layers, levels = rng.normal(size=(5, 4, 3)).astype(np.float32), rng.normal(size=(2, 3)).astype(np.float32)
    assert (highest(layers) == layers.max(axis=2)).all() and (lowest(layers) == layers.min(axis=2)).all()
    away = layers[:, :, None] - levels
    assert farthest(layers, levels) == pytest.approx(away.max(axis=3).min(axis=2))
