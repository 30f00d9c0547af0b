"""From a place on a scan to a place on the film, worked by hand."""

from __future__ import annotations

import pytest

from wetside.figures.channels import RGB
from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark
from wetside.stages.causes.signs.film import Lie, film_mm, placed

PICTURE = Rectangle(100, 200, 720, 480)


@pytest.mark.independent(how="60 + 2 × 38 + (460 − 100) / 20 by hand, and the same seen from the other end")
def test_a_column_of_the_third_frame_lies_where_a_ruler_would_put_it() -> None:
    lie = Lie(60.0, 38.0, 20.0)
    assert film_mm(460, PICTURE, 3, lie) == pytest.approx(154.0)
    assert film_mm(280, PICTURE, 3, Lie(60.0, 38.0, 20.0, True)) == pytest.approx(60 + 76 + 27)


@pytest.mark.independent(how="the contract: a missing scale gives null, never a guess")
def test_without_a_scale_or_a_pitch_there_is_no_place_on_the_film() -> None:
    assert film_mm(460, PICTURE, 3, Lie(60.0, 38.0, None)) is None
    assert film_mm(460, PICTURE, 3, Lie(60.0, None, 20.0)) is None


@pytest.mark.independent(how="by hand")
def test_across_runs_from_the_top_edge_of_the_picture_to_its_bottom() -> None:
    mark = Mark(Rectangle(400, 310, 20, 20), None, None, RGB(0.1, 0.1, 0.1), "sharp", "spot")
    found = placed(mark, PICTURE, 1, Lie(60.0, 38.0, 20.0))
    assert found.across == pytest.approx(0.25)
    assert found.film_mm == pytest.approx(60 + 15.5)
