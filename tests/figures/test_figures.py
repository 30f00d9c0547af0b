"""What a number is, and what JSON may hold."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.figures.channels import number, rgb
from wetside.figures.finding import Finding, Unusable
from wetside.figures.flags import SAY, Left
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.figures.rung import LADDER

sides = st.integers(0, 500)
rectangles = st.builds(Rectangle, sides, sides, st.integers(1, 300), st.integers(1, 300))


@given(st.floats())
def test_a_number_is_finite_or_unknown(value: float) -> None:
    assert number(value) is None or math.isfinite(value)
    json.dumps(number(value), allow_nan=False)


def test_channels_keep_their_order_and_names() -> None:
    assert rgb({"b": 3, "r": 1, "g": 2}).as_json() == {"r": 1.0, "g": 2.0, "b": 3.0}
    with pytest.raises(KeyError):
        rgb({"r": 1, "g": 2})


@pytest.mark.independent(how="counting shared and joint pixels on a grid")
@given(rectangles, rectangles)
def test_overlap_equals_counted_pixels(a: Rectangle, b: Rectangle) -> None:
    import numpy as np

    grids = []
    for rectangle in (a, b):
        grid = np.zeros((900, 900), bool)
        grid[rectangle.slices] = True
        grids.append(grid)
    counted = (grids[0] & grids[1]).sum() / (grids[0] | grids[1]).sum()
    assert intersection_over_union(a, b) == pytest.approx(counted)


@given(rectangles, st.integers(1, 400), st.integers(1, 400))
def test_a_clipped_rectangle_lies_inside(rectangle: Rectangle, width: int, height: int) -> None:
    clipped = rectangle.clipped_to(width, height)
    assert clipped.w >= 0 and clipped.h >= 0
    assert clipped.w == 0 or clipped.x + clipped.w <= width
    assert clipped.h == 0 or clipped.y + clipped.h <= height


def test_every_reason_a_pixel_is_left_out_can_be_said() -> None:
    assert set(SAY) == set(Left)


def test_the_ladder_has_six_rungs_in_order() -> None:
    assert [rung.level for rung in LADDER] == list(range(6))


def test_an_error_is_one_line() -> None:
    assert Unusable("two\nlines", "here").as_json()["what"] == "two lines"
    assert Finding("a", "note", "here", "say").as_json()["expected"] == ""
