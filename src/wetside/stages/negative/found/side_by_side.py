"""Several strips in one file: lengths of film that a flatbed's holder holds next to each other, along the file or down it.

Answers: which bands of a file are strips, and where does each frame of each lie? Between strips lies an unbroken band
of the holder, of bare light or of bare film. Every strip is cut as a length of its own; all must agree in the size of
their pictures, and at least one must show two frames. A band as wide as the others that cannot be cut makes the
answer unsure: then the file gives nothing, and says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.place import Part, Rectangle
from wetside.laws.image.layers import lowest
from wetside.stages.negative.found.length import (
    OPAQUE,
    Comb,
    above_thinnest,
    alike,
    best_comb,
    comb_of_one,
    film_beside,
    reach_along,
)
from wetside.stages.negative.found.turned_length import lie_of, upright

MOST_STRIPS = 6
#: Share of a row that may still be something else where nothing but holder or light lies.
TRACE = 0.03
#: A strip's least height [working px], and over the tallest band; what is lower is no strip.
LEAST_HEIGHT = 24
AS_WIDE = 0.6


@dataclass(frozen=True)
class Strip:
    """A band of film in the array set upright by `angle` [degrees]: its box there, and the row of pictures in it."""

    box: Rectangle
    angle: float
    comb: Comb


@dataclass(frozen=True)
class Strips:
    """Parts of all strips of a file in order; `unsure`: bands of film lie side by side, but not all could be cut.

    `banded`: something lies in bands, so that a closer look is worth its time.
    """

    parts: tuple[Part, ...] = ()
    unsure: bool = False
    banded: bool = False


def strips_side_by_side(density: np.ndarray, shrink: float) -> Strips:
    """Frames of every strip, from densities (h, w, 3) [D] at working size: top to bottom (strips that run down: left to
    right), within a strip as a length counts. Empty where there are not two strips."""
    along, doubts = _best(density)
    down, doubts_down = _best(np.ascontiguousarray(np.rot90(density)))
    if not along and not down:
        doubts += doubts_down
        return Strips(unsure=any(doubts), banded=bool(doubts))
    height, width = density.shape[:2]
    if _score(down) > _score(along):
        parts = [
            Part(_scaled(Rectangle(width - y - h, x, h, w), shrink), True, by, strip=number)
            for number, strip in enumerate(reversed(down), 1)
            for (x, y, w, h), by in zip(_boxes(strip, width, height, down), strip.comb.by)
        ]
        return Strips(tuple(parts))
    return Strips(tuple(
        Part(_scaled(box, shrink), by=by, strip=number)
        for number, strip in enumerate(along, 1)
        for box, by in zip(_boxes(strip, height, width, along), strip.comb.by)
    ))  # fmt: skip


def _score(strips: list[Strip]) -> float:
    return sum(strip.comb.score for strip in strips)


def _scaled(box: Rectangle, shrink: float) -> Rectangle:
    return Rectangle(*(round(v * shrink) for v in box))


def _best(density: np.ndarray) -> tuple[list[Strip], list[bool]]:
    """The strips along an array by the first thing that parts it into strips; else of each try whether it was unsure."""
    doubts: list[bool] = []
    for film in _films(density):
        turned, angle = upright(film)
        bands = _bands(turned)
        if len(bands) < 2:
            continue
        strips, doubt = _cut(_upright_colours(density, angle), bands, angle)
        if strips:
            return strips, []
        doubts.append(doubt)
    return [], doubts


def _films(density: np.ndarray) -> Iterator[np.ndarray]:
    """Masks of what may be film or picture: what is no holder, what is over the thinnest shared colour, and both."""
    clear = lowest(cv2.GaussianBlur(density, (0, 0), 0.7)) <= OPAQUE
    yield clear
    above = above_thinnest(density)
    if above is not None:
        near_opaque = cv2.dilate((~clear).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
        yield above & ~near_opaque
        yield above


def _upright_colours(density: np.ndarray, angle: float) -> np.ndarray:
    if not angle:
        return density
    height, width = density.shape[:2]
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), angle, 1)
    return cv2.warpAffine(density, turn, (width, height), borderMode=cv2.BORDER_REPLICATE)


def _bands(film: np.ndarray) -> list[Rectangle]:
    """Rows that are parted by holder or light, each with the columns that film fills; low ones left out."""
    on = np.r_[False, film.mean(axis=1) > TRACE, False]
    edges = np.flatnonzero(np.diff(on.astype(np.int8)))
    found = []
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist()):
        columns = np.flatnonzero(film[first:last].mean(axis=0) > 0.15)
        if last - first >= LEAST_HEIGHT and len(columns):
            left, right = int(columns[0]), int(columns[-1]) + 1
            found.append(Rectangle(left, first, right - left, last - first))
    tallest = max((band.h for band in found), default=0)
    return [band for band in found if band.h > AS_WIDE * tallest]


def _cut(density: np.ndarray, bands: list[Rectangle], angle: float) -> tuple[list[Strip], bool]:
    """A strip for each band; none, and whether that is unsure, where some band is not like the others."""
    if len(bands) > MOST_STRIPS:
        return [], False
    boxes = [_with_edges(i, bands, density.shape[1], density.shape[0]) for i in range(len(bands))]
    crops = [np.ascontiguousarray(density[box.slices]) for box in boxes]
    combs = [best_comb(crop) for crop in crops]
    known = [comb for comb in combs if comb is not None]
    if not known:
        return [], False
    like = max(known, key=lambda comb: comb.score)
    combs = [comb or comb_of_one(crop, like) for comb, crop in zip(combs, crops)]
    strips = [Strip(box, angle, comb) for box, comb in zip(boxes, combs) if comb and alike(comb, like)]
    return (strips, False) if len(strips) == len(bands) else ([], True)


def _with_edges(index: int, bands: list[Rectangle], width: int, height: int) -> Rectangle:
    """A band with up to half of what lies between it and its neighbours, and a little at its ends."""
    band = bands[index]
    before = bands[index - 1].y + bands[index - 1].h if index else None
    after = bands[index + 1].y if index + 1 < len(bands) else None
    top = 0.4 * band.h if before is None else min(0.4 * band.h, (band.y - before) / 2)
    foot = 0.4 * band.h if after is None else min(0.4 * band.h, (after - band.y - band.h) / 2)
    side = round(0.15 * band.h)
    box = Rectangle(band.x - side, band.y - int(top), band.w + 2 * side, band.h + int(top) + int(foot))
    return box.clipped_to(width, height)


def _boxes(strip: Strip, height: int, width: int, strips: list[Strip]) -> list[Rectangle]:
    """Each frame with its half of the gap and the film above and below it, as it lies in the unturned array."""
    first, last = strip.comb.rows
    middle, reach = (first + last) / 2, film_beside(strip.comb)
    up, below = min(reach, middle), min(reach, strip.box.h - middle)
    half = reach_along(strip.comb) or min(h for one in strips if (h := reach_along(one.comb)))
    boxes = []
    for a, b in strip.comb.spans:
        x, y = lie_of((a + b) / 2, middle, strip.comb.angle, strip.box.h, strip.box.w)
        x, y = lie_of(x + strip.box.x, y + strip.box.y, strip.angle, height, width)
        box = Rectangle(int(x - half), int(y - up), round(2 * half), round(up + below))
        boxes.append(box.clipped_to(width, height))
    return boxes
