"""Edge print: names, frame numbers and bars that light wrote on the film beside the pictures.

Print is dense, thin in its strokes, and stands in rows: pieces of one height on one line. Two such pieces make a row, and
all that stands in the row and is about as dense belongs to it. A single thin-stroked piece that is dense enough is taken
for print too: it cannot be told from a fibre, and neither is a mark of the wet side.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

#: A piece of print is over this density [D] and over half of the densest place near it.
LEAST, NEAR = 0.1, 15
#: Its strokes are no wider than this part of its height, and it is so many pixels tall at half size at the least.
STROKE, TALL = 0.42, 5
#: Pieces of one row agree in height and level to these parts of it.
ALIKE, LEVEL = 0.2, 2.2
#: A thin-stroked piece over this density [D] is print without a second.
ALONE = 0.5
#: Pixels at half size round a piece that its soft rim reaches.
RIM = 3


@dataclass(frozen=True)
class Piece:
    """A dense place: number of its label, first and last row with the film's slope taken off, density, whether its strokes are thin."""

    number: int
    top: float
    foot: float
    level: float
    thin: bool


def edge_print(dense: np.ndarray, film: np.ndarray, slope: float = 0.0) -> np.ndarray:
    """Where print stands (h, w) bool, from density over unexposed film (h, w) [D]; `slope`: rows a column that the film runs down."""
    near = cv2.dilate(dense, np.ones((NEAR, NEAR), np.uint8))
    on = (film & (dense > np.maximum(LEAST, 0.5 * near))).astype(np.uint8)
    printed = np.zeros(film.shape, bool)
    if not on.any():
        return printed
    _, labels, stats, centres = cv2.connectedComponentsWithStats(on, connectivity=8)
    deep = cv2.distanceTransform(on, cv2.DIST_L2, 3)
    pieces = [
        _piece(i, labels, stats[i], float(centres[i][0]), deep, dense, slope) for i in range(1, len(stats))
    ]
    for piece in of_print([one for one in pieces if one is not None]):
        printed |= labels == piece.number
    if not printed.any():
        return printed
    return np.asarray(cv2.dilate(printed.astype(np.uint8), np.ones((2 * RIM + 1, 2 * RIM + 1), np.uint8))) > 0


def of_print(pieces: list[Piece]) -> list[Piece]:
    """The pieces that belong to print: those in a row of two thin-stroked ones or more, and single dense ones."""
    thin = [one for one in pieces if one.thin]
    rows = [
        one
        for one in thin
        if one.level > ALONE or any(_in_line(one, other) for other in thin if other is not one)
    ]
    return [one for one in pieces if one in rows or any(_within(one, row) for row in rows)]


def _piece(
    number: int,
    labels: np.ndarray,
    stat: np.ndarray,
    x: float,
    deep: np.ndarray,
    dense: np.ndarray,
    slope: float,
) -> Piece | None:
    left, top, w, h, area = (int(v) for v in stat)
    if area < 3:
        return None
    box = np.s_[top : top + h, left : left + w]
    own = labels[box] == number
    stroke = 2 * float(deep[box][own].max()) - 1
    down = slope * x
    return Piece(
        number,
        top - down,
        top + h - down,
        float(np.percentile(dense[box][own], 75)),
        h >= TALL and stroke < STROKE * h,
    )


def _in_line(one: Piece, other: Piece) -> bool:
    """Whether two pieces have their heads and feet on one line, and one density."""
    slack = 1.5 + ALIKE * (one.foot - one.top)
    alike = one.level < LEVEL * other.level and other.level < LEVEL * one.level
    return alike and abs(one.top - other.top) < slack and abs(one.foot - other.foot) < slack


def _within(one: Piece, row: Piece) -> bool:
    """Whether a piece stands in a row's height and is about as dense."""
    slack = 1.5 + ALIKE * (row.foot - row.top)
    return one.top > row.top - slack and one.foot < row.foot + slack and one.level > row.level / LEVEL
