"""How evenly a strip was developed across the film is read off its dense steps; where a cell does not hold the step, nothing is said."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.figures.place import Rectangle
from wetside.figures.scan import Scan
from wetside.stages.negative.measured.across import PARTS, developed_across
from wetside.stages.negative.measured.wedge import grid_cells
from wetside.stages.negative.scanner.working import light_of

LEVELS = (0.2, 0.5, 0.9, 1.2)


def strip(fall: np.ndarray) -> Scan:
    """Four steps side by side, 50 pixels wide and 100 high, density above the first one times `fall` (100,) down the strip."""
    above = np.repeat(np.array(LEVELS) - LEVELS[0], 50)
    density = LEVELS[0] + fall[:, None] * above[None]
    pixels = np.repeat((60000 * 10**-density)[..., None], 3, axis=2).astype(np.uint16)
    return Scan("strip.tif", pixels, 65535, 16, "linear")


def told(scan: Scan) -> np.ndarray | None:
    boxes = grid_cells(Rectangle(0, 0, 200, 100), 4, 1)
    return developed_across(scan, boxes, None, light_of(None, None, None), cores=True)


@pytest.mark.independent(how="a fall from edge to edge that was chosen, averaged over the parts by hand")
def test_a_fall_across_the_film_is_read_and_an_even_strip_is_even() -> None:
    even = told(strip(np.ones(100)))
    assert even is not None and even == pytest.approx(np.ones((PARTS, 3)), abs=0.005)
    fall = np.linspace(0.8, 1.0, 100)
    seen = told(strip(fall))
    middles = 0.08 + 0.84 * (np.arange(PARTS) + 0.5) / PARTS
    want = 0.8 + 0.2 * middles
    assert seen is not None and seen[:, 1] == pytest.approx(want / want.mean(), abs=0.005)


@pytest.mark.independent(how="a strip of which the upper third is no film of the steps")
def test_a_cell_that_its_step_does_not_fill_tells_nothing() -> None:
    fall = np.ones(100)
    fall[:30] = 0.0
    assert told(strip(fall)) is None
    assert (
        developed_across(
            strip(fall), grid_cells(Rectangle(0, 0, 100, 100), 2, 1), None, light_of(None, None, None)
        )
        is None
    )
