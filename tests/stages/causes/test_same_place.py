"""Marks at one place of the picture in three frames tell by themselves; marks anywhere, or in one frame, do not."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from wetside.figures.channels import RGB
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.ranking.evidence import Evidence
from wetside.stages.causes.ranking.model import ranked_causes
from wetside.stages.causes.signs.same_place import at_one_place, marks_of, without_the_lights


def frame(*places: tuple[float, float], x: int = 40) -> dict[str, Any]:
    """A frame as read gives it, with small dense marks at places of its picture."""
    picture = {"x": x, "y": 30, "w": 600, "h": 400}
    marks = [
        {"x": x + 600 * u - 5, "y": 30 + 400 * v - 5, "w": 10, "h": 10, "edge": "sharp", "kind": "spot",
         "delta": {"r": 0.3, "g": 0.3, "b": 0.3}, "chance": 0.9}
        for u, v in places
    ]  # fmt: skip
    return {"file": "", "picture": picture, "marks": marks}


@pytest.mark.independent(
    how="places by hand: three frames alike, pictures that lie elsewhere in their files, one frame alone"
)
def test_three_frames_with_a_mark_at_one_place_tell() -> None:
    alike = [frame((0.31, 0.62), (0.8, 0.2)), frame((0.32, 0.61), x=55), frame(), frame((0.30, 0.62))]
    assert at_one_place(marks_of(alike)) == 3
    assert at_one_place(marks_of(alike[:3])) == 0  # two frames
    assert at_one_place(marks_of([frame((0.3, 0.6), (0.31, 0.6), (0.3, 0.61))])) == 0  # one frame
    beside = [{**one, "in_rebate": True} for one in marks_of(alike)]
    assert at_one_place(beside) == 0  # what lies beside every picture alike
    assert at_one_place([{"x": 1, "y": 1, "w": 2, "h": 2}] * 4) == 0  # no place told


@pytest.mark.independent(
    how="marks drawn anywhere over a third of the pictures' height, 200 rolls: the level is 0.003"
)
def test_marks_anywhere_hardly_ever_lie_at_one_place() -> None:
    rng = np.random.default_rng(6)
    claimed = 0
    for _ in range(200):
        rolls = [frame(*rng.uniform((0, 0.66), (1, 1), (int(n), 2))) for n in rng.integers(0, 4, 9)]
        claimed += at_one_place(marks_of(rolls)) > 0
    assert claimed <= 4


@pytest.mark.independent(
    how="dirt leaves sharp marks at one place of every frame (handbook film.md §4), three of nine found"
)
def test_few_marks_at_one_place_speak_for_what_stays_with_the_frame() -> None:
    alike = marks_of([frame((0.3, 0.6)), frame((0.3, 0.6)), frame((0.3, 0.6)), *[frame()] * 6])
    apart = marks_of([frame((0.3, 0.6)), frame((0.7, 0.1)), frame((0.1, 0.3)), *[frame()] * 6])
    names = [
        {one.name: one.weight for one in ranked_causes(Evidence(marks=tuple(own), frames=9))}
        for own in (alike, apart)
    ]
    dirt, drying = "dust or dirt in camera or scanner", "drying marks or residue on the surface"
    assert names[0][dirt] > 10 * names[0][drying] and names[1][dirt] < 2 * names[1][drying]


@pytest.mark.independent(
    how="unexposed film has no way to be thinner at one place of every frame; marks by hand"
)
def test_thin_marks_beside_every_picture_are_the_lights() -> None:
    def beside(x: int, delta: float) -> Mark:
        return Mark(
            Rectangle(x, 5, 20, 10), None, None, RGB(delta, delta, delta), "sharp", "spot", None, True
        )

    picture = Rectangle(40, 30, 600, 400)
    marks = [(beside(60, -0.03), beside(300, 0.1)), (beside(62, -0.03), beside(300, 0.1)), (beside(60, -0.02), beside(301, 0.1), beside(500, -0.1)), ()]  # fmt: skip
    left = without_the_lights([FrameReading(f"{i}", picture, own) for i, own in enumerate(marks)])
    assert [[m.box.x for m in one.marks] for one in left] == [[300], [300], [301, 500], []]
    few = [FrameReading(f"{i}", picture, own) for i, own in enumerate(marks[:2])]
    assert without_the_lights(few) == few
