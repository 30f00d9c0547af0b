"""The unexposed base: which pixels are of its colour."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.stages.negative.found.base import near_base


@pytest.mark.independent(how="numpy: the largest difference of a layer to the nearest level")
@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_near_the_base_is_within_a_radius_of_some_level_in_all_layers(kind: type) -> None:
    rng = np.random.default_rng(3)
    density = rng.normal(0.5, 0.1, (30, 40, 3)).astype(kind)
    levels = rng.normal(0.5, 0.05, (3, 3))
    away = np.abs(density[:, :, None] - levels).max(axis=3).min(axis=2)
    assert (near_base(density, levels, 0.08) == (away < 0.08)).all() and 50 < (away < 0.08).sum() < 1100
