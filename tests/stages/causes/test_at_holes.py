"""Plumes beside most holes are found along their edge and told from light; pictures, pickets and a few plumes are none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wetside.figures.channels import RGB
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading
from wetside.stages.causes.signs.at_holes import Holes, at_holes, hole_seen, said_of_holes
from wetside.stages.causes.signs.film import Lie
from wetside.stages.causes.signs.stacked import Stack, with_staying

TALL, WIDE, PITCH, HOLE = 80, 120, 15.8, 6.0


def things(rng: np.random.Generator) -> np.ndarray:
    """A drawn picture (h, w, 3) [D above base] of things that hide each other."""
    picture = np.full((TALL, WIDE, 3), rng.uniform(0.2, 1.4), np.float32)
    for _ in range(12):
        x, y, w, h = (int(v) for v in rng.uniform(0, 1, 4) * (WIDE, TALL, 50, 40))
        picture[y : y + h, x : x + w] = rng.uniform(0.2, 1.4)
    return picture + rng.normal(0, 0.01, picture.shape).astype(np.float32)


def plumed(above: np.ndarray, more: float, added: float, every: int = 1, deep: float = 2.5) -> np.ndarray:
    """The picture with plumes beside every hole, or every so many, that grow with density or add to it."""
    v, u = np.mgrid[0:TALL, 0:WIDE]
    part = np.zeros((TALL, WIDE))
    for at in np.arange(HOLE - PITCH, WIDE + PITCH, PITCH * every):
        part = np.maximum(part, np.clip((3 - np.hypot(u - at, (v + 0.5) / deep)) / 3 + 0.5, 0, 1))
    return (above * (1 + more * part[..., None]) + added * part[..., None]).astype(np.float32)


def seen(pictures: list[np.ndarray], at: float | None = HOLE) -> list[Holes]:
    return [Holes(one, PITCH, at) for one in pictures]


@pytest.fixture(scope="module")
def pictures() -> list[np.ndarray]:
    rng = np.random.default_rng(11)
    return [things(rng) for _ in range(9)]


@pytest.mark.independent(
    how="plumes of 12 % laid beside every hole of drawn pictures; the same without, and of one view"
)
def test_plumes_beside_most_holes_are_found_along_their_edge(pictures: list[np.ndarray]) -> None:
    counts, marked = np.ones(9), [plumed(one, 0.12, 0.0) for one in pictures]
    [told] = at_holes(seen(marked), counts)
    assert not told.below and told.share > 0.6 and told.strays > 5
    assert told.size == pytest.approx(np.log(1.12), rel=0.35) and 0.05 < told.reach < 0.2
    [x, y, w, h], delta = next(own[0] for own in told.marks if own)
    assert y == 0 and 0.03 < w < 0.1 and (delta > 0).all()
    assert abs(((x + w / 2) * WIDE - HOLE) / PITCH - round(((x + w / 2) * WIDE - HOLE) / PITCH)) < 0.12
    [turned] = at_holes(seen([one[::-1] for one in marked]), counts)
    assert turned.below and turned.reach == told.reach
    assert at_holes(seen(pictures), counts) == at_holes(seen(marked), counts / 9) == []


@pytest.mark.independent(
    how="the same size of plume, once a share of what is there and once the same everywhere"
)
def test_what_grows_with_density_is_told_from_what_is_added(pictures: list[np.ndarray]) -> None:
    grown = at_holes(seen([plumed(one, 0.2, 0.0) for one in pictures]), np.ones(9))
    added = at_holes(seen([plumed(one, 0.0, 0.15) for one in pictures]), np.ones(9))
    assert [one.grows for one in grown] == [True] and [one.grows for one in added] == [False]
    [said], [of_light] = said_of_holes(grown), said_of_holes(added)
    assert "top edge" in said.say and "surges" in said.source and "light through the holes" in of_light.source


@pytest.mark.independent(
    how="plumes at every fifth hole, thin ones, pickets over the whole height, and too few pictures, by hand"
)
def test_what_is_no_plume_of_most_holes_is_not_claimed(pictures: list[np.ndarray]) -> None:
    counts = np.ones(9)
    assert at_holes(seen([plumed(one, 0.25, 0.0, every=5) for one in pictures]), counts) == []
    assert (
        at_holes(seen([plumed(one, -0.12, 0.0) for one in pictures]), counts) == []
    )  # light through the holes
    assert at_holes(seen([plumed(one, 0.12, 0.0, deep=100.0) for one in pictures]), counts) == []
    assert at_holes(seen([plumed(one, 0.12, 0.0) for one in pictures[:4]]), np.ones(4)) == []
    assert at_holes([replace(one, pitch=60.0) for one in seen(pictures)], counts) == []


@pytest.mark.independent(how="holes masked at known columns of a frame whose picture has plumes beside them")
def test_a_roll_shows_its_plumes_as_marks_beside_the_holes_of_each_frame(pictures: list[np.ndarray]) -> None:
    stack = Stack(4.75)
    for number, one in enumerate(pictures):
        density = np.zeros((TALL + 22, WIDE + 10, 3), np.float32)
        density[17 : 17 + TALL, 5 : 5 + WIDE] = plumed(one, 0.15, 0.0)
        mask = np.zeros(density.shape[:2], np.uint16)
        for at in np.arange(5 + HOLE, WIDE, PITCH):
            mask[3:10, round(at - 3) : round(at + 3)] = int(Left.PERFORATION)
        picture = Rectangle(2, 14, WIDE + 6, TALL + 6)  # its rim is cut off
        frame = DensityFrame(
            f"{number}.tif", number + 1, density, mask, picture, 1.0, RGB(0, 0, 0), PITCH / 4.75
        )
        stack.add(frame)
    pitch, at = stack.holes[0]
    assert pitch == pytest.approx(PITCH, rel=0.02) and at == pytest.approx(HOLE, abs=1.0)
    lie = Lie(0.0, 38.0, PITCH / 4.75)
    own = [with_staying(FrameReading(f"{i}.tif", picture), stack, i + 1, lie) for i in range(9)]
    plumes = [mark for one in own for mark in one.marks if mark.kind == "plume"]
    assert plumes and all(mark.across is not None and mark.across < 0.2 for mark in plumes)
    assert all(mark.film_mm is not None and mark.delta.g > 0 for mark in plumes)
    assert [one.id for one in stack.said()] == ["at-holes"] and stack.staying == []
    assert hole_seen(replace(frame, mask=np.zeros_like(mask)), 5, 1.0, PITCH) is None
