"""The reel drawing: every mark has its number, and no number covers a mark or another number."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.reel.spiral import TURN, length_to_angle
from wetside.web.reel_chart import grouped, reel_drawing


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
    assert [one["text"] for one in labels] == [str(i + 1) for i in range(len(own))]
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
