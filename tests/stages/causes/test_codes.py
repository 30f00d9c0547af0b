"""Codes in place of logarithms: even steps of an inverted file stay even, and marks in one are found."""

from __future__ import annotations

import numpy as np
import pytest
from tests.stages.causes.test_marks import disc, framed, ground

from wetside.figures.density import DensityFrame
from wetside.stages.causes.signs.codes import SPAN, in_codes
from wetside.stages.causes.signs.marks import marks_in_frame


def scanned(codes: np.ndarray) -> DensityFrame:
    """A frame as a file of these codes is read: the logarithm of the light that they stand for."""
    return framed(-2.2 * np.log10(np.clip(codes, 1e-3, 1)).astype(np.float32))


@pytest.mark.independent("codes by hand: white is 0, black the whole span, the middle half of it")
def test_even_steps_of_code_are_even_steps() -> None:
    codes = np.tile(np.array([1.0, 0.75, 0.5, 0.25, 0.001])[:, None, None], (1, 4, 3))
    steps = in_codes(scanned(codes)).density[:, 0, 0]
    assert steps == pytest.approx(SPAN * np.array([0, 0.25, 0.5, 0.75, 0.999]), abs=1e-4)


@pytest.mark.independent(
    "planted truth: one density added to a negative, which a file shows turned round, code by density"
)
@pytest.mark.parametrize("thinnest", [0.0, 0.2])
def test_a_mark_of_an_inverted_file_is_found_by_its_codes_alone(thinnest: float) -> None:
    density = disc(ground(), (0.1, 0.1, 0.1), 1.5)
    turned = scanned(np.clip((density - np.percentile(density, 0.5) + thinnest) / 1.6, 0, 1))
    assert len(marks_in_frame(in_codes(turned))) == 1
    assert not marks_in_frame(turned)
