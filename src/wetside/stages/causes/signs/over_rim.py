"""Marks that unexposed film shows, as far as they reach into the picture; and of the picture's own, whether the film beside shows them.

A mark on the rebate that touches the picture's rim goes on in it if the net found anything there that is of its colour: the
rebate proves it, so the net need not be sure. A mark of the picture that ends at the rim while the film beside it is clean
is no stain: light through the lens, or development, stops where the picture does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark
from wetside.stages.causes.signs.outline import edge_by_fill, kind_of
from wetside.stages.causes.signs.stained import Stained
from wetside.stages.causes.signs.unexposed import PICTURE_RIM, Unexposed, grown

#: Pixels at half size from a changed place, or a mark, to the other side of the rim.
OVER = PICTURE_RIM + 3
#: Least likeness in colour (cosine) of both parts, and how their sizes may differ.
ALIKE, SIZES = 0.8, (0.35, 2.5)
#: Share of the place's own length along the rim that the picture's part meets.
MET = 0.5
#: A mark so near to the picture's rim reaches it; how far the film beside is looked at [half pixels], and the fewest pixels of it.
NEAR_RIM, BESIDE, FEWEST = 4, 6, 12
#: Shares of a mark's density that the film beside shows: under the first it is clean, over the second it shows the mark; and how well that must be known.
CLEAN, SHOWS, KNOWN = 0.2, 0.6, 0.15
#: The chance that what unexposed film shows is a mark: of those claimed in the study nearly all were (docs/studies.md).
CHANCE = 0.97


@dataclass(frozen=True)
class Within:
    """A place of the picture: its area (h, w) bool at half size with its left top corner in the frame, and its ΔD (3,) [D]."""

    area: np.ndarray
    left: int
    top: int
    delta: np.ndarray

    def over(self, shape: tuple[int, int]) -> np.ndarray:
        """The area (h, w) bool over the whole frame."""
        whole = np.zeros(shape, bool)
        tall, wide = (
            min(n, s - at) for n, s, at in zip(self.area.shape, shape, (self.top, self.left), strict=True)
        )
        whole[self.top : self.top + tall, self.left : self.left + wide] = self.area[:tall, :wide]
        return whole


def gone_on(film: Unexposed, place: Stained, within: Sequence[Within]) -> int | None:
    """Number of the picture's place that a place of the unexposed film goes on in; the first that fits, None where none does."""
    met = grown(place.area, OVER) & film.picture
    if met.sum() < 3:
        return None
    rows, columns = np.nonzero(met)
    top, left = max(0, rows.min() - OVER), max(0, columns.min() - OVER)
    box = Rectangle(
        int(left), int(top), int(np.ptp(columns)) + 2 * OVER + 1, int(np.ptp(rows)) + 2 * OVER + 1
    )
    size = float(np.linalg.norm(place.delta))
    for number, one in enumerate(within):
        tall, wide = one.area.shape
        if (
            one.left >= box.x + box.w
            or box.x >= one.left + wide
            or one.top >= box.y + box.h
            or box.y >= one.top + tall
        ):
            continue
        own = float(np.linalg.norm(one.delta))
        if float(one.delta @ place.delta) < ALIKE * own * size or not SIZES[0] < own / size < SIZES[1]:
            continue
        shared = met & grown(one.over(met.shape), 1)
        if (
            max(
                shared.any(axis=0).sum() / met.any(axis=0).sum(),
                shared.any(axis=1).sum() / met.any(axis=1).sum(),
            )
            > MET
        ):
            return number
    return None


def film_beside(film: Unexposed, one: Within) -> bool | None:
    """Whether unexposed film shows a mark of the picture that reaches its rim; None where it does not reach it, or too little film is seen."""
    area = one.over(film.film.shape)
    end = area & grown(~film.picture, NEAR_RIM)
    beside = grown(end, OVER + BESIDE) & film.film if end.sum() >= 4 else end & film.film
    size = float(np.linalg.norm(one.delta))
    if beside.sum() < FEWEST or size == 0 or np.median(film.scatter[beside]) > KNOWN * size:
        return None
    share = float(np.median(film.away[beside] @ one.delta)) / size**2
    return False if share < CLEAN else True if share > SHOWS else None


def mark_on_film(film: Unexposed, place: Stained, within: Within | None, file_pixels: float) -> Mark:
    """The mark of a place of unexposed film and of the picture's place it goes on in; `file_pixels` of the file a pixel here."""
    area = place.area
    if within is not None:
        both = (area | within.over(area.shape)).astype(np.uint8)
        wide = 2 * OVER + 1
        area = cv2.morphologyEx(both, cv2.MORPH_CLOSE, np.ones((wide, wide), np.uint8)) > 0
    outlines, _ = cv2.findContours(area.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=len)[:, 0, :]
    rows, columns = np.nonzero(area)
    left, top, right, bottom = (
        round(v * file_pixels) for v in (columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)
    )
    box = Rectangle(left, top, max(1, right - left), max(1, bottom - top))
    points = tuple(
        (round((x + 0.5) * file_pixels), round((y + 0.5) * file_pixels))
        for x, y in outline[:: max(1, -(-len(outline) // 40))].tolist()
    )
    way = place.delta / float(place.delta @ place.delta)
    rows, columns = np.nonzero(place.area)
    cut = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    edge = edge_by_fill(film.away[cut] @ way)
    return Mark(
        box,
        None,
        None,
        rgb(place.delta),
        edge,
        kind_of(box, int(area.sum())),
        rgb(place.spread),
        True,
        points,
        CHANCE,
    )
