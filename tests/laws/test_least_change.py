"""The area whose step, taken out, leaves the least change: against every area there is."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from wetside.laws.image.least_change import FREE, IN, OUT, REACH, least_change, whitening


def cost(area: np.ndarray, density: np.ndarray, step: np.ndarray, white: np.ndarray, smooth: float) -> float:
    """The sum as the docstring states it, pair by pair."""
    total, height, width = 0.0, *area.shape
    for y, x in product(range(height), range(width)):
        for dy, dx in ((0, REACH), (REACH, 0), (REACH - 1, REACH - 1), (REACH - 1, 1 - REACH)):
            if 0 <= y + dy < height and 0 <= x + dx < width:
                change = density[y + dy, x + dx] - density[y, x]
                change = change - step * (int(area[y + dy, x + dx]) - int(area[y, x]))
                total += float(np.linalg.norm(white @ change))
        for dy, dx in ((0, 1), (1, 0)):
            if y + dy < height and x + dx < width and area[y + dy, x + dx] != area[y, x]:
                total += smooth
    return total


@pytest.mark.independent(how="all 4,096 areas of a small piece tried, the stated sum reckoned pair by pair")
@pytest.mark.parametrize("seed", range(3))
def test_no_other_area_leaves_less_change(seed: int) -> None:
    rng = np.random.default_rng(seed)
    density = rng.normal(0, 0.1, (4, 5, 3))
    step = rng.uniform(0.05, 0.3, 3)
    density[1:3, 1:4] += step
    known = np.full((4, 5), FREE, np.int8)
    known[0, :4], known[3, :3], known[1, 2] = OUT, OUT, IN
    ground = np.ones((4, 5), np.uint8)
    found = least_change(density, step, known, ground, smooth=0.3)
    white = whitening(density, ground)
    free = np.argwhere(known == FREE)
    best, least = None, np.inf
    for bits in product((False, True), repeat=len(free)):
        area = known == IN
        area[free[:, 0], free[:, 1]] = bits
        here = cost(area, density, step, white, 0.3)
        if here < least:
            best, least = area, here
    assert best is not None
    assert (found == best).all() or cost(found, density, step, white, 0.3) == pytest.approx(least, abs=0.05)


def test_what_is_known_is_kept_and_grounds_are_not_compared() -> None:
    density = np.zeros((12, 12, 3))
    density[:, 6:] = 1.0  # a rim between two grounds, larger than any stain
    known = np.full((12, 12), FREE, np.int8)
    known[0], known[5, 5] = OUT, IN
    ground = np.ones((12, 12), np.uint8)
    ground[:, 6:] = 2
    found = least_change(
        density + np.random.default_rng(1).normal(0, 0.01, density.shape), np.full(3, 0.5), known, ground
    )
    assert found[5, 5] and not found[0].any() and found.sum() < 5
