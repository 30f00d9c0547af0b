"""Uneven development in pictures: planted on photographs with grey cards it is found, on even ones it is not."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.casts import found

from wetside.stages.causes.grown import relative_profile, summed


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
    profile, error = relative_profile(cards)
    assert profile is not None and (error < 0.01).all()
    assert profile[:, 1] == pytest.approx(truth - truth.mean(), abs=0.003)
    assert summed(np.full((4, rows, 40, 3), np.nan)) == pytest.approx(np.zeros((rows, 3)))
