"""The reel drawing: every mark has its number, and no number covers a mark or another number."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.reel.spiral import TURN, length_to_angle
from wetside.web.reel_chart import FEW, MIDDLE, grouped, reel_drawing


def places(kind: str) -> list[float]:
    rng = np.random.default_rng(7)
    if kind == "one angle":
        return [float(length_to_angle(1.0 + TURN * t + rng.normal(0, 0.1), 20.0, 2.85)) for t in range(9)]
    if kind == "one frame":
        return [400.0 + 2.5 * i for i in range(12)]
    return sorted(rng.uniform(60, 1400, 24).tolist())


@pytest.mark.parametrize("kind", ["one angle", "one frame", "anywhere"])
def test_numbers_on_the_reel_cover_nothing(kind: str) -> None:
    own = places(kind)
    drawing = reel_drawing(own, 20.0, 2.85, 1500.0)
    labels = drawing["on_reel"]
    numbers = [str(i + 1) for i in range(len(own))]
    assert set(texts := [one["text"] for one in labels]) <= set(numbers)
    assert texts == numbers or len(own) > FEW
    for i, one in enumerate(labels):
        for other in labels[i + 1 :]:
            assert (
                abs(one["x"] - other["x"]) >= one["half"] + other["half"] or abs(one["y"] - other["y"]) >= 18
            )
        for x, y in drawing["marks"]:
            assert abs(one["x"] - x) >= one["half"] + 5.9 or abs(one["y"] - y) >= 14.9


def test_numbers_on_the_strip_have_room_and_name_every_mark() -> None:
    found = grouped([20, 24, 60, 70, 82, 200, 620])
    assert [one["text"] for one in found] == ["1–2", "3–5", "6", "7"]
    drawing = reel_drawing(places("anywhere"), 20.0, 2.85, 1500.0)
    for one, after in zip(drawing["on_strip"], drawing["on_strip"][1:]):
        assert after["first"] == one["last"] + 1
        assert after["x"] - one["x"] >= 5 * (len(one["text"]) + len(after["text"]))
    assert grouped([]) == []


@pytest.mark.independent(
    how="marks laid at a known angle by the reel's law, on both sides of the angle where a turn ends"
)
@pytest.mark.parametrize("angle", [0.05, 2.2, 4.0])
def test_the_shaded_side_is_where_the_marks_were_laid(angle: float) -> None:
    laid = [float(length_to_angle(angle + TURN * t, 20.0, 2.85)) for t in range(1, 9)]
    side = reel_drawing(laid, 20.0, 2.85, 1500.0, answer="one angle")["side"]
    x, y = side["word"]
    off = np.arctan2(MIDDLE - y, x - MIDDLE) - angle
    assert abs(np.angle(np.exp(1j * off))) < 0.1
    assert reel_drawing(laid, 20.0, 2.85, 1500.0, answer="scattered")["side"] is None


def test_only_marks_a_turn_apart_are_joined() -> None:
    angles = (1.0, 1.0 + TURN, 3.0, 3.0 + 2 * TURN, 5.0)
    laid = [float(length_to_angle(one, 20.0, 2.85)) for one in angles]
    drawing = reel_drawing(laid, 20.0, 2.85, 1500.0, answer="touching turns")
    order = np.argsort(laid).tolist()
    (joined,) = drawing["mates"]
    assert joined == (*drawing["marks"][order.index(0)], *drawing["marks"][order.index(1)])
    assert drawing["turns"][order.index(3)] == 3
