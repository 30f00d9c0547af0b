"""A strip thin along one edge is told beside those of good runs; what all strips share, and a strip that is thin all over, are none."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.stages.causes.signs.uneven_strip import thin_edge


def profile(rng: np.random.Generator, thin: float = 0.0, exposed: float = 0.0) -> np.ndarray:
    """Development across the film (5, 3), 1 in the mean: one edge thin, and an exposure that fell off over the strip."""
    across = (np.arange(5) + 0.5) / 5
    made = (1 - thin * np.clip(1 - across / 0.3, 0, 1)) * (1 - exposed * across)
    noisy = made[:, None] * (1 + rng.normal(0, 0.001, (5, 3)))
    return np.asarray(noisy / noisy.mean(axis=0))


@pytest.mark.independent(
    how="one edge made thinner by a share that was chosen, on strips whose exposure falls off too"
)
def test_a_thin_edge_is_told_beside_good_strips_whatever_they_share() -> None:
    rng = np.random.default_rng(3)
    good = [profile(rng, exposed=0.1) for _ in range(3)]
    told = thin_edge(profile(rng, 0.2, 0.1), good)
    assert told is not None and not told.last
    assert told.size == pytest.approx(np.full(3, np.log(1 - 0.2 * (1 - 0.1 / 0.3))), abs=0.01)
    turned = thin_edge(profile(rng, 0.2, 0.1)[::-1], [one[::-1] for one in good])
    assert turned is not None and turned.last
    assert thin_edge(profile(rng, 0.0, 0.1), good) is None
    assert thin_edge(profile(rng, 0.03, 0.1), good) is None


@pytest.mark.independent(
    how="profiles by hand: one good run, both edges thin, one layer alone, strays as large as the sign"
)
def test_what_a_tank_filled_too_low_does_not_leave_is_not_told() -> None:
    rng = np.random.default_rng(4)
    good = [profile(rng) for _ in range(3)]
    assert thin_edge(profile(rng, 0.2), good[:1]) is None
    both = profile(rng, 0.2) * profile(rng, 0.2)[::-1]
    assert thin_edge(both / both.mean(axis=0), good) is None
    one_layer = profile(rng)
    one_layer[0, 2] *= 0.8
    assert thin_edge(one_layer, good) is None
    assert thin_edge(profile(rng, 0.2), [profile(rng, t) for t in (0.0, 0.25, 0.1)]) is None
