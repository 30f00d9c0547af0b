"""Marks on the unexposed film of a frame that this file makes itself: base, perforations, holder, a picture."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from wetside.figures.channels import RGB, rgb
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.figures.reading import FrameReading, Mark
from wetside.laws.image.layers import half_size
from wetside.stages.causes.signs.edge_print import Piece, of_print
from wetside.stages.causes.signs.film import each_once
from wetside.stages.causes.signs.marks import marks_in_frame
from wetside.stages.causes.signs.stained import Stained, judged, stained_places
from wetside.stages.causes.signs.unexposed import Unexposed, bare_light, unexposed_film

BASE = np.array([0.2, 0.55, 0.8], np.float32)
PICTURE = Rectangle(60, 150, 680, 320)
HOLES = [Rectangle(x, 40, 44, 62) for x in range(40, 760, 110)]
TALL, WIDE = 560, 800


def film(grain: float = 0.004) -> np.ndarray:
    """Density of a frame without a mark: an even picture of 0.6 D above its base, which grows by 0.06 D from left to right."""
    density = np.tile(BASE, (TALL, WIDE, 1))
    density[PICTURE.slices] += 0.6
    density += np.linspace(-0.03, 0.03, WIDE, dtype=np.float32)[None, :, None]
    return (density + grain * np.random.default_rng(3).standard_normal(density.shape)).astype(np.float32)


def framed(density: np.ndarray, picture: Rectangle = PICTURE) -> DensityFrame:
    """The frame as the reading hands it on: holes bare and blurred at their rims, the holder above and below."""
    mask = np.zeros(density.shape[:2], np.uint16)
    outside = np.ones(mask.shape, bool)
    outside[picture.y - 3 : picture.y + picture.h + 3, picture.x - 3 : picture.x + picture.w + 3] = False
    mask[outside] |= int(Left.REBATE)
    bare = np.zeros(mask.shape, np.float32)
    for hole in HOLES:
        bare[hole.slices] = 1
        mask[hole.slices] |= int(Left.PERFORATION)
    light = cv2.GaussianBlur(bare, (0, 0), 1.5)[..., None]
    density = -np.log10(10**-density * (1 - light) + light + 1e-6).astype(np.float32)
    density[:12] = density[-12:] = 4.0
    mask[:12] = mask[-12:] = int(Left.OUTSIDE_FILM)
    return DensityFrame("n1.tif", 1, density, mask, picture, 1.0, rgb(BASE), 20.0)


def looked_at(frame: DensityFrame) -> Unexposed | None:
    return unexposed_film(frame, half_size(frame.density))


def stain(density: np.ndarray, x: float, y: float, radius: float, delta: tuple[float, ...]) -> np.ndarray:
    v, u = np.mgrid[0:TALL, 0:WIDE]
    inside = np.clip(radius - np.hypot(u - x, v - y) + 0.5, 0, 1)[..., None]
    return (density + inside * np.array(delta)).astype(np.float32)


def places(density: np.ndarray) -> list[Stained]:
    seen = judged(looked_at(framed(density)))
    assert seen is not None
    return stained_places(seen)


@pytest.mark.independent("planted truth")
@pytest.mark.parametrize("delta", [(0.05, 0.05, 0.05), (0.0, 0.0, 0.06), (-0.08, -0.06, -0.05)])
def test_a_faint_spot_on_the_rebate_is_found_with_its_place_and_density(delta: tuple[float, ...]) -> None:
    (place,) = places(stain(film(), 300, 515, 12, delta))
    rows, columns = np.nonzero(place.area)
    assert 2 * columns.mean() == pytest.approx(300, abs=2) and 2 * rows.mean() == pytest.approx(515, abs=2)
    assert np.abs(place.delta - np.array(delta)).max() < 0.008
    assert (np.abs(place.delta - np.array(delta)) < 4 * place.spread).all()


@pytest.mark.independent("planted truth: nothing")
def test_clean_film_with_holes_and_a_light_that_falls_off_shows_no_mark() -> None:
    assert places(film()) == []


def test_a_scratch_along_the_whole_film_is_found_and_a_cast_along_it_is_none() -> None:
    scratched, uneven = film(), film()
    scratched[118:121] -= 0.12
    uneven[526:] += np.linspace(0, 0.2, TALL - 526, dtype=np.float32)[:, None, None]
    (scratch,) = places(scratched)
    assert np.ptp(np.nonzero(scratch.area)[1]) > 0.9 * WIDE / 2
    assert places(uneven) == []


def test_edge_print_is_no_mark_and_a_stain_that_lies_over_it_still_is() -> None:
    ink = np.zeros((TALL, WIDE), np.uint8)
    for left in (70, 360, 640):
        cv2.putText(ink, "7A 90", (left, 532), cv2.FONT_HERSHEY_SIMPLEX, 1.1, 255, 3, cv2.LINE_AA)
    printed = film() + (ink.astype(np.float32) / 255)[..., None] * np.array([1.1, 0.9, 0.7], np.float32)
    assert places(printed) == []
    printed[500:520, :7] += 0.5  # a letter that the scan's end cuts
    assert places(printed) == []
    (place,) = places(stain(printed, 470, 518, 24, (0.1, 0.1, 0.1)))
    assert abs(2 * np.nonzero(place.area)[1].mean() - 470) < 12
    (divided,) = places(stain(printed, 400, 518, 30, (0.1, 0.1, 0.1)))
    assert np.ptp(np.nonzero(divided.area)[1]) > 22


def test_two_pieces_on_one_line_are_print_and_a_lone_faint_ring_is_none() -> None:
    seven, nought = Piece(1, 10, 22, 0.8, True), Piece(2, 10.5, 22.5, 0.7, True)
    dot, ring = Piece(3, 18, 21, 0.6, False), Piece(4, 40, 60, 0.2, True)
    assert {piece.number for piece in of_print([seven, nought, dot, ring])} == {1, 2, 3}


def test_a_neighbours_picture_beyond_the_gap_is_no_mark() -> None:
    density = film()
    density[150:470, 775:] += np.random.default_rng(1).uniform(0.1, 0.9, (320, 25, 1)).astype(np.float32)
    assert places(density) == []


def test_a_picture_that_lies_a_little_askew_makes_no_mark_of_its_edge() -> None:
    density = film()
    for x in range(60, 260):
        density[138 + (x - 60) // 17 : 150, x] += 0.5
    assert places(density) == []


def test_a_picture_whose_place_is_not_sure_says_nothing_of_the_film_round_it() -> None:
    assert looked_at(framed(film(), Rectangle(60, 150, 300, 160))) is None
    assert judged(looked_at(framed(film(), Rectangle(60, 180, 680, 290)))) is None
    assert looked_at(replace(framed(film()), base=None)) is None


@pytest.mark.independent("planted truth")
def test_a_stain_over_the_rim_is_one_mark_that_the_film_proves() -> None:
    (mark,) = marks_in_frame(framed(stain(film(), 400, 470, 30, (0.12, 0.1, 0.15))))
    assert mark.in_rebate is True and mark.chance is not None and mark.chance > 0.9
    assert intersection_over_union(mark.box, Rectangle(370, 440, 60, 60)) > 0.75
    assert np.abs(np.array(mark.delta) - np.array([0.12, 0.1, 0.15])).max() < 0.01


@pytest.mark.independent("planted truth")
def test_what_ends_at_the_rim_is_not_in_unexposed_film_and_what_lies_within_is_not_said() -> None:
    both = stain(stain(film(), 250, 462, 30, (0.15, 0.15, 0.15)), 520, 300, 26, (0.15, 0.15, 0.15))
    both[PICTURE.y + PICTURE.h :] = film()[PICTURE.y + PICTURE.h :]
    shown = {mark.box.x < 400: mark.in_rebate for mark in marks_in_frame(framed(both))}
    assert shown == {True: False, False: None}


def test_a_mark_in_the_gap_that_two_scans_show_counts_once() -> None:
    seen = RGB(0.1, 0.1, 0.1)
    fuller = Mark(Rectangle(790, 300, 40, 40), 37.5, 0.5, seen, "sharp", "spot", in_rebate=True)
    cut = Mark(Rectangle(2, 302, 22, 40), 37.3, 0.5, seen, "sharp", "spot", in_rebate=True)
    other = Mark(Rectangle(2, 20, 22, 40), 37.3, 0.0, seen, "sharp", "spot", in_rebate=True)
    frames = [FrameReading("a.tif", PICTURE, (fuller,)), FrameReading("b.tif", PICTURE, (cut, other))]
    assert [frame.marks for frame in each_once(frames, 20.0)] == [(fuller,), (other,)]
    assert [len(frame.marks) for frame in each_once(frames, None)] == [1, 2]


@pytest.mark.independent(
    how="a hole, a scratch, a stain and a bell-sized dent drawn on a base of known density"
)
def test_bare_light_is_told_by_being_compact_and_thin_in_all_layers_without_its_level() -> None:
    base = np.array([0.37, 0.7, 1.05], np.float32)  # what scans without an open gate add is in it
    half = np.tile(base, (120, 160, 1))
    half[20:48, 30:50] -= np.array([0.22, 0.28, 0.57], np.float32)  # a hole
    half[80, 10:150] -= 0.3  # a scratch
    half[60:75, 100:120] += 0.2  # a stain
    half[90:105, 40:60, 2] -= 0.3  # thin in one layer alone
    found = bare_light(half, base)
    assert found[20:48, 30:50].all() and found.sum() == 28 * 20
