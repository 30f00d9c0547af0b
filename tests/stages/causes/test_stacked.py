"""What stays at one place while pictures change is found; pictures alone, or pictures that are alike, give nothing."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from benchmarks.marks import frame_of
from benchmarks.planted import FITTED, KEPT_OUT, negative

from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.reading import FrameReading
from wetside.stages.causes.signs.film import Lie
from wetside.stages.causes.signs.outline import edge_against, edge_by_fill
from wetside.stages.causes.signs.stacked import Stack, inner, with_staying
from wetside.stages.causes.signs.unmoved import counts_of, unmoved

TALL, WIDE, SPOT = 320, 480, (300, 120)


def disc(radius: float, soft: float) -> np.ndarray:
    y, x = np.mgrid[0:TALL, 0:WIDE]
    return np.clip((radius - np.hypot(x - SPOT[0], y - SPOT[1])) / soft + 0.5, 0, 1)[..., None].astype(
        np.float32
    )


@pytest.fixture(scope="module")
def roll() -> list[DensityFrame]:
    """Ten pictures of photographs, each of its own crop."""
    rng = np.random.default_rng(4)
    found = []
    for number in range(10):
        density, base, _ = negative(rng, FITTED + KEPT_OUT)
        small = cv2.resize(density, (WIDE, TALL), interpolation=cv2.INTER_AREA)
        found.append(replace(frame_of(small, base, 20.0), file=f"{number}.tif", frame=number + 1))
    return found


def things(rng: np.random.Generator) -> np.ndarray:
    """A drawn picture (h, w, 3) [D] of things that hide each other."""
    picture = np.full((TALL, WIDE, 3), rng.uniform(0.3, 1.2), np.float32)
    for _ in range(14):
        x, y, w, h = (int(v) for v in rng.uniform(0, 1, 4) * (WIDE, TALL, 200, 140))
        picture[y : y + h, x : x + w] = rng.uniform(0.3, 1.4, 3)
    return picture + rng.normal(0, 0.01, picture.shape).astype(np.float32)


def stacked(frames: list[DensityFrame]) -> Stack:
    stack = Stack()
    for frame in frames:
        stack.add(frame)
    return stack


@pytest.mark.independent(
    how="a speck of 0.3 D laid on the same place of photographs; nothing laid on the same ones"
)
def test_a_speck_that_stays_is_found_on_every_frame_that_shows_it_and_photographs_alone_give_none(
    roll: list[DensityFrame],
) -> None:
    assert stacked(roll).staying == [] and stacked(roll).said() == ()
    speck = disc(5, 1.5) * np.array([0.3, 0.3, 0.28], np.float32)
    dirty = [
        replace(f, density=f.density + speck * (i > 1)) for i, f in enumerate(roll)
    ]  # the first two are clean
    stack = stacked(dirty)
    [one] = stack.staying
    assert one.delta == pytest.approx(
        [0.3 * 0.8, 0.3 * 0.8, 0.28 * 0.8], abs=0.08
    )  # eight of ten frames show it
    assert (one.error < 0.08).all()  # they show different things there, and two show no speck
    lie = Lie(0.0, 25.0, 20.0)
    seen = [
        with_staying(FrameReading(f.file, f.picture), stack, i, lie).marks for i, f in enumerate(dirty, 1)
    ]
    counts = [len(marks) for marks in seen]
    assert (
        sum(counts[:2]) < 2 and sum(counts[2:]) >= 6 and max(counts) == 1
    )  # a thing may lie there by chance
    at = counts.index(1, 2)
    mark = seen[at][0]
    assert mark.box.centre == pytest.approx(SPOT, abs=4) and mark.edge == "sharp"
    assert mark.film_mm == pytest.approx(at * 25.0 + 300 / 20, abs=0.3)
    again = with_staying(FrameReading(dirty[at].file, dirty[at].picture, (mark,)), stack, at + 1, lie)
    assert again.marks == (mark,)  # what the frame's own finder claimed is not claimed twice
    [said] = stack.said()
    assert said.id == "same-place" and "one mark stays" in said.say and "±" in said.say


def test_few_pictures_alike_pictures_and_holes_give_nothing(roll: list[DensityFrame]) -> None:
    speck = disc(5, 1.5) * np.float32(0.5)
    dirty = [replace(f, density=f.density + speck) for f in roll]
    assert stacked(dirty[:4]).staying == []
    assert (
        stacked([replace(dirty[0], file=str(i)) for i in range(8)]).staying == []
    )  # one picture eight times
    hole = np.where(disc(9, 1.0)[..., 0] > 0, int(Left.PERFORATION), 0).astype(np.uint16)
    assert stacked([replace(f, mask=hole) for f in dirty]).staying == []


@pytest.mark.independent(
    how="areas of a disc and of a bell in closed form: the bell's from 2/3 and from 1/3 of its height are as ln 1.5 to ln 3"
)
def test_an_edge_is_told_by_how_much_of_a_mark_is_full() -> None:
    y, x = np.mgrid[-40:41, -40:41]
    bell = np.exp(-0.5 * (np.hypot(x, y) / 15) ** 2)
    assert (bell > 2 / 3).sum() / (bell > 1 / 3).sum() == pytest.approx(np.log(1.5) / np.log(3), abs=0.02)
    flat = np.clip((15 - np.hypot(x, y)) / 2 + 0.5, 0, 1)
    assert (edge_by_fill(bell), edge_by_fill(flat)) == ("soft", "sharp")
    for added, edge in ((bell, "soft"), (flat, "sharp")):
        for sign in (-1, 1):  # a scan of it, drawn round by a rectangle: light falls where density is added
            scan = 30000 * 10 ** (-0.2 * sign * added)[..., None] * np.ones(3)
            around = [np.full((20, 20, 3), 30000.0)] * 4
            assert edge_against(scan[15:66, 15:66].astype(np.uint16), around) == edge


@pytest.mark.independent(
    how="soft light of 0.3 D in red laid on one place of drawn pictures: where it lies, by layers, how wide, which frames hold it"
)
def test_wide_soft_light_that_stays_is_found_by_the_steps_that_pictures_share() -> None:
    glow = disc(40, 50) * np.array([0.3, 0.24, 0.18], np.float32)
    rng = np.random.default_rng(6)
    made = [things(rng) + glow * (i != 3) for i in range(12)]
    lit = [replace(frame_of(one, np.zeros(3), 20.0), file=f"{i}.tif") for i, one in enumerate(made)]
    stack = stacked(lit)
    [one] = stack.staying
    assert (
        0.15 < one.delta[0] < 0.3 and one.edge == "soft"
    )  # the middle one of all that is over half its height
    assert one.delta / one.delta[0] == pytest.approx([1, 0.8, 0.6], abs=0.08)
    seen = [
        with_staying(FrameReading(f.file, f.picture), stack, i, Lie()).marks for i, f in enumerate(lit, 1)
    ]
    assert not seen[3] and sum(map(len, seen)) >= 7
    box = next(marks for marks in seen if marks)[0].box
    assert box.centre == pytest.approx(SPOT, abs=12) and 60 < box.w < 130  # half of it reaches 80 pixels


@pytest.mark.independent(how="a known field laid on steps that strays spoil in a third of the pictures")
def test_the_density_that_most_pictures_share_comes_back_from_its_steps_less_what_is_smooth_all_over() -> (
    None
):
    rng = np.random.default_rng(3)
    y, x = np.mgrid[0:40, 0:60]
    bump = 0.3 * np.exp(-((x - 20) ** 2 + (y - 25) ** 2) / 18)
    pictures = np.repeat((bump + 0.004 * x - 0.002 * y)[None], 9, axis=0)
    for i in range(9):
        pictures[i] += 0.8 * (rng.uniform(0, 60) < x) + 0.5 * (
            rng.uniform(0, 40) < y
        )  # things: a step each way
    found = unmoved(pictures, np.ones(9))
    assert np.abs(found - bump).max() < 0.05 and np.abs(found[:10] - bump[:10]).max() < 0.02


def test_pictures_of_one_view_count_once_together() -> None:
    rng = np.random.default_rng(8)
    view, other = (
        cv2.GaussianBlur(rng.normal(0, 1, (60, 90)).astype(np.float32), (0, 0), 2) for _ in range(2)
    )
    counts = counts_of(np.stack([view, view + 0.01 * rng.normal(0, 1, view.shape), other]))
    assert counts == pytest.approx([0.5, 0.5, 1.0])


def test_a_pictures_rim_is_left_out() -> None:
    assert tuple(inner(frame_of(np.zeros((100, 200, 3), np.float32), np.zeros(3), 1.0).picture)) == (
        3,
        3,
        194,
        94,
    )
