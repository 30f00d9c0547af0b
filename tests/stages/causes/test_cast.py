"""Casts of drawn film: a stain of any shape stands in the gap between two frames, and what is no stain does not pass for one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
import pytest

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle
from wetside.figures.reading import Cast
from wetside.stages.causes.signs.cast import GAP, OPEN_GATE, ROWS, CastField
from wetside.stages.causes.signs.film_across import film_across
from wetside.stages.causes.signs.gaps import gaps_across, middle_of

pytestmark = pytest.mark.independent(how="stains, lights and development planted on drawn film; none is told")
TALL, WIDE = 260, 420
PICTURE = Rectangle(40, 50, 340, 160)
BASE = np.array([0.2, 0.5, 0.75])
SIZE = np.array([0.03, 0.06, 0.10])
ACROSS = (np.arange(TALL) + 0.5 - PICTURE.y) / PICTURE.h
OVER_PICTURE = (np.arange(ROWS) + 0.5) / ROWS
Shape = Callable[[np.ndarray], np.ndarray]
SHAPES: dict[str, Shape] = {
    "along the middle": lambda across: np.exp(-((across - 0.45) ** 2) / 0.07),
    "along an edge": lambda across: np.exp(-np.maximum(across + 0.2, 0) / 0.25),
    "straight": lambda across: across - 0.5,
}
EVEN: Shape = np.zeros_like


@dataclass(frozen=True)
class Film:
    """What is wrong with a film, and how its scans show it."""

    stain: Shape = EVEN
    light: Shape = EVEN
    gaps: Shape = EVEN
    thin: float = 0.0
    gapped: bool = True
    neighbour: bool = False
    dirty: bool = False
    smooth: bool = False


def of_width(shape: Shape) -> np.ndarray:
    return np.asarray(shape(ACROSS))[:, None, None] * SIZE


def scene(rng: np.random.Generator, film: Film) -> np.ndarray:
    """A picture's density above base (h, w, 3): clouds of several sizes, or one even grey with soft ones."""
    found = np.full((PICTURE.h, PICTURE.w, 3), rng.uniform(0.4, 0.9), np.float32)
    for cells in (3, 9, 30):
        coarse = rng.normal(0, 0.01 if film.smooth else 0.15, (cells, cells, 1)).astype(np.float32)
        found += cv2.resize(coarse, (PICTURE.w, PICTURE.h), interpolation=cv2.INTER_CUBIC)[..., None]
    return np.maximum(found, 0.1)


def frame_of(film: Film, number: int) -> DensityFrame:
    rng = np.random.default_rng(100 + number)
    above = np.zeros((TALL, WIDE, 3), np.float32)
    above[PICTURE.slices] = scene(rng, film)
    if film.neighbour:
        above[PICTURE.y : PICTURE.y + PICTURE.h, PICTURE.x + PICTURE.w + 20 :] = rng.uniform(0.1, 0.9)
    above *= 1 - film.thin * np.clip((0.4 - ACROSS) / 0.4, 0, 1)[:, None, None]
    density = BASE + above + of_width(film.stain) + of_width(film.light)
    beside = np.ones((TALL, WIDE, 1))
    beside[PICTURE.slices] = 0
    density = density + beside * of_width(film.gaps) + rng.normal(0, 0.004, density.shape)
    if film.dirty:
        for _ in range(12):
            x, y = int(rng.integers(0, WIDE - 6)), int(rng.integers(0, TALL - 30))
            density[y : y + 30, x : x + 4] += rng.uniform(0.2, 0.6)
    mask = np.full((TALL, WIDE), int(Left.REBATE), np.uint16)
    mask[PICTURE.slices] = 0
    columns = slice(None) if film.gapped else slice(PICTURE.x, PICTURE.x + PICTURE.w)
    picture = PICTURE if film.gapped else replace_x(PICTURE)
    seen = {side: density[rows, columns][:, 8:-8] for side, rows in (("top", slice(16, 40)), ("bottom", slice(220, 244)))}  # fmt: skip
    return DensityFrame(
        f"n{number}", number, np.ascontiguousarray(density[:, columns], np.float32), np.ascontiguousarray(mask[:, columns]),
        picture, 1.0, rgb(np.median(seen["top"], axis=(0, 1))), None,
        {side: rgb(np.median(values, axis=(0, 1))) for side, values in seen.items()},
        {"top": float(ACROSS[16:40].mean()), "bottom": float(ACROSS[220:244].mean())},
    )  # fmt: skip


def replace_x(box: Rectangle, x: int = 0) -> Rectangle:
    return Rectangle(x, box.y, box.w, box.h)


def cast_of(film: Film, frames: int = 6, light_known: bool = True) -> Cast:
    field = CastField(light_known)
    for number in range(frames):
        field.add(frame_of(film, number))
    return field.cast()


def left_of(cast: Cast, *shapes: Shape) -> float:
    """The most [D] that is left over the picture once a cast's profile is taken off film with these shapes on it."""
    places = [point.across for point in cast.profile]
    taken = np.stack(
        [np.interp(OVER_PICTURE, places, [p.density[c] for p in cast.profile]) for c in range(3)], axis=1
    )
    away = taken - sum(np.outer(shape(OVER_PICTURE), SIZE) for shape in shapes)
    return float(np.abs(away - away.mean(axis=0)).max())


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("film", [Film(), Film(neighbour=True, dirty=True)], ids=["clean", "dirty"])
def test_a_stain_of_any_shape_comes_back_from_the_gaps(shape: str, film: Film) -> None:
    cast = cast_of(replace(film, stain=SHAPES[shape]))
    assert cast.found and cast.kind == "additive" and cast.anchor == "rebate" and cast.parted
    left = left_of(cast, SHAPES[shape])
    assert left < 0.004 and cast.remains is not None and left < cast.remains + 0.001
    assert cast.spread is not None and max(cast.spread) < 0.004 and "gaps beside 6 pictures" in cast.basis


def test_film_that_is_even_and_development_that_is_not_are_given_no_stain() -> None:
    assert not cast_of(Film(dirty=True, neighbour=True)).found
    uneven = cast_of(Film(thin=0.25, smooth=True), frames=10)
    assert uneven.kind == "with density" and "gaps beside 10 pictures" in uneven.basis


def test_development_that_is_uneven_under_a_stain_is_said_beside_it() -> None:
    cast = cast_of(Film(stain=SHAPES["along the middle"], thin=0.25, smooth=True), frames=10)
    assert cast.kind == "additive" and "grow uneven with density" in cast.basis
    assert left_of(cast, SHAPES["along the middle"]) < 0.004
    assert cast.remains is not None and cast.remains > 0.03
    assert "with density" not in cast_of(Film(stain=SHAPES["along the middle"], smooth=True), frames=10).basis


def test_without_an_open_gate_light_and_stain_stay_one() -> None:
    bent = cast_of(Film(light=SHAPES["along the middle"]), light_known=False)
    assert not bent.found and bent.would_help == OPEN_GATE and "light and stain as one" in bent.basis
    film = Film(stain=SHAPES["along the middle"], light=SHAPES["straight"])
    both = cast_of(film, light_known=False)
    assert both.kind == "light" and not both.parted and both.would_help == OPEN_GATE
    assert "more across the width, light and stain as one" in both.basis
    assert both.remains is not None and left_of(both, film.stain, film.light) < both.remains
    tilt = cast_of(Film(light=SHAPES["straight"]), light_known=False)
    assert tilt.kind == "light" and "as one" not in tilt.basis
    even = cast_of(Film(), light_known=False)
    assert not even.found and "as one" not in even.basis


def test_light_on_the_gaps_alone_is_no_cast_where_the_pictures_contradict_it() -> None:
    cast = cast_of(Film(gaps=SHAPES["along the middle"], smooth=True), frames=12)
    assert not cast.found and "reached the unexposed film alone" in cast.basis
    stain = cast_of(Film(stain=SHAPES["along the middle"], smooth=True), frames=12)
    assert stain.kind == "additive" and "the pictures hold it too" in stain.basis
    unsure = cast_of(Film(stain=SHAPES["along the middle"]), frames=4)
    assert unsure.kind == "additive" and "the pictures alone cannot tell" in unsure.basis


def test_where_no_gap_is_shown_what_may_be_left_is_said_and_what_would_help() -> None:
    cast = cast_of(Film(stain=SHAPES["along an edge"], gapped=False))
    assert cast.kind == "additive" and cast.would_help == GAP and cast.remains is not None
    assert 0.005 < left_of(cast, SHAPES["along an edge"]) < cast.remains
    unseen = cast_of(Film(stain=SHAPES["along the middle"], gapped=False))
    assert not unseen.found and unseen.would_help == GAP


def test_a_gap_is_read_beside_the_picture_as_it_lies_turned_and_no_farther_than_it_goes() -> None:
    frame = frame_of(Film(stain=SHAPES["straight"], neighbour=True), 1)
    gaps = gaps_across(frame, ROWS)
    assert gaps is not None
    for gap in gaps:
        assert gap[:, 2] - gap[:, 2].mean() == pytest.approx(SIZE[2] * (OVER_PICTURE - 0.5), abs=0.004)
    middle = PICTURE.x + PICTURE.w / 2 - 0.5, PICTURE.y + PICTURE.h / 2 - 0.5
    turn = cv2.getRotationMatrix2D(middle, -6.0, 1)  # the library counts against the clock
    plain = frame_of(Film(), 1)
    lies = cv2.warpAffine(plain.density, turn, (WIDE, TALL), borderMode=cv2.BORDER_REPLICATE)
    cut = slice(24, WIDE - 24)
    narrow = replace(plain, density=lies[:, cut], mask=plain.mask[:, cut], picture=replace_x(PICTURE, 16))
    turned, wrong = (gaps_across(replace(narrow, angle=angle), ROWS) for angle in (6.0, -6.0))
    assert turned is not None and np.nanmax(np.abs(turned - BASE)) < 0.01
    assert wrong is None or np.isfinite(wrong).mean() < 0.9 < np.isfinite(turned).mean()


def test_what_is_no_even_film_of_the_base_is_no_gap() -> None:
    plain = frame_of(Film(), 1)
    inside = replace(plain, picture=Rectangle(140, 50, 140, 160))
    assert gaps_across(inside, ROWS) is None
    assert gaps_across(replace(plain, picture=Rectangle(0, 50, WIDE, 160)), ROWS) is None
    lost = replace(plain, mask=np.full_like(plain.mask, int(Left.OUTSIDE_FILM)))
    assert gaps_across(lost, ROWS) is None


def test_rows_that_do_not_tell_are_bridged_by_the_curve() -> None:
    shape = np.outer(SHAPES["along the middle"](OVER_PICTURE), SIZE)
    gaps = []
    for number in range(5):
        gap = shape + np.random.default_rng(number).normal(0, 0.001, shape.shape)
        gap[20:24] = np.nan
        gaps.append(np.stack([gap, np.full_like(gap, np.nan)]))
    film = film_across([*gaps, None], [{}] * 6, [{}] * 6, 4)
    assert film is not None and film.frames == 5 and not film.ends
    assert film.profile == pytest.approx(shape - shape.mean(axis=0), abs=0.003)
    assert film_across([*gaps[:3], None], [{}] * 4, [{}] * 4, 4) is None


def test_a_middle_of_what_is_told_is_numpys_own() -> None:
    values = np.random.default_rng(2).normal(size=(7, 5, 3))
    values[values > 1] = np.nan
    assert middle_of(values) == pytest.approx(np.nanmedian(values, axis=0))
    assert np.isnan(middle_of(np.full((3, 2), np.nan))).all()
