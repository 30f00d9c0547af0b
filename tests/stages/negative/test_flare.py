"""Stray light is read off the holder, and dense pictures are not taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.stages.negative.scanner.flare import flares
from wetside.stages.negative.scanner.working import Working, in_steps

VEIL = 0.02


def pictures(veil: float, holder: bool) -> list[Working]:
    """Five pictures whose skies are dense at one place, under a holder or as far as the rim; a share of all light lies over each."""
    rng = np.random.default_rng(3)
    found = []
    for _ in range(5):
        density = rng.uniform(0.3, 1.0, (30, 40)).repeat(6, axis=0).repeat(6, axis=1)
        density[:70] = 1.35 + 0.02 * rng.standard_normal((70, 240))
        if holder:
            density[:12] = density[-12:] = 6.0
            density[12:30] = 0.25
        through = 10 ** -np.repeat(density[..., None], 3, axis=2)
        seen = (1 - veil) * through + veil * through.mean(axis=(0, 1))
        found.append(Working("n.tif", in_steps(-np.log10(seen)), np.zeros((180, 240), np.uint16), 1.0, 240, 180))  # fmt: skip
    return found


@pytest.mark.independent(how="a veil laid over drawn pictures, its share known")
def test_the_holder_tells_the_veil_although_skies_are_dense_in_all_pictures() -> None:
    found = flares(pictures(VEIL, holder=True))
    assert all(one is not None and one.share == pytest.approx(VEIL, rel=0.05) for one in found)


@pytest.mark.independent(how="drawn pictures without any veil")
@pytest.mark.parametrize("holder", [True, False])
def test_skies_that_are_dense_in_all_pictures_are_no_stray_light(holder: bool) -> None:
    assert flares(pictures(0.0, holder)) == [None] * 5
