"""Rectangles mended by what a roll's frames share, against rectangles that were planted and then spoiled."""

import numpy as np
import pytest

from wetside.stages.negative.found.picture import agreed, supposed

pytestmark = pytest.mark.independent(how="planted rectangles, their found edges moved inside")
TRUE = [(20.0 + x, 143.0, 884.0 + x, 719.0) for x in (0, 4, 4, 3, 3, 1)]


def _off(edges: tuple[float, float, float, float], true: tuple[float, float, float, float]) -> float:
    return float(np.abs(np.array(edges) - np.array(true)).max())


def test_a_frame_with_no_edge_in_sight_gets_the_usual_place() -> None:
    found = [*TRUE[:5], (74.0, 333.0, 631.0, 719.0)]
    edges = agreed(found)
    assert edges[5] is not None and _off(edges[5], TRUE[5]) <= 4
    assert supposed(found[5], edges[5])
    assert not any(supposed(a, b) for a, b in zip(found[:5], edges))


def test_one_edge_at_its_usual_place_carries_the_other() -> None:
    found = [*TRUE[:5], (120.0, 143.0, 885.0, 719.0)]
    edges = agreed(found)
    assert edges[5] is not None and _off(edges[5], TRUE[5]) <= 0.5
    assert not supposed(found[5], edges[5])


def test_the_mended_rectangle_holds_what_was_seen() -> None:
    moved = (60.0, 143.0, 924.0, 719.0)
    edges = agreed([*TRUE[:5], (100.0, 143.0, 920.0, 719.0)])
    assert edges[5] is not None
    assert edges[5][0] <= 100 and edges[5][2] >= 920
    assert _off(edges[5], moved) <= 8


def test_a_frame_that_shows_nothing_is_supposed() -> None:
    edges = agreed([*TRUE[:5], None])
    assert edges[5] is not None and _off(edges[5], TRUE[5]) <= 4
    assert supposed(None, edges[5])


def test_two_frames_agree_on_nothing() -> None:
    assert agreed([TRUE[0], None]) == [TRUE[0], None]
