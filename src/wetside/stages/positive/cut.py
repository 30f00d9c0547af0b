"""Where the frames of a roll are cut when their pictures alone are wanted: one size for all, each about its own picture.

A moving roll then stands still to the picture's own rim, whatever place the scanner gave it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from statistics import median

import numpy as np

from wetside.figures.place import Rectangle

Box = tuple[int, int, int, int]
#: Share of the smaller side left out at each edge: a picture's rim is soft, and its place good to some pixels.
RIM = 0.006
#: A picture whose sides are off by more than this share is of another size and keeps it.
ALIKE = 0.1


def cuts_of(boxes: Mapping[str, Box]) -> dict[str, Box]:
    """x, y, w, h by file, in the pixels of `boxes` (the pictures as they were found); sides are even."""
    if not boxes:
        return {}
    wide, tall = median(box[2] for box in boxes.values()), median(box[3] for box in boxes.values())
    return {
        file: _about(box, wide, tall)
        if _alike(box[2], wide) and _alike(box[3], tall)
        else _about(box, *box[2:])
        for file, box in boxes.items()
    }


def _alike(side: float, other: float) -> bool:
    return abs(side - other) <= ALIKE * other


def _about(box: Box, wide: float, tall: float) -> Box:
    """A box of this size, less its rim, about the middle of another."""
    x, y, w, h = box
    rim = RIM * min(wide, tall)
    width, height = (max(2, 2 * round((side - 2 * rim) / 2)) for side in (wide, tall))
    return round(x + (w - width) / 2), round(y + (h - height) / 2), width, height


def within(cut: Box, height: int, width: int) -> Box:
    """A cut moved, and made smaller where it must be, to lie in a file of height × width."""
    x, y, w, h = cut
    w, h = min(w, width), min(h, height)
    return min(max(0, x), width - w), min(max(0, y), height - h), w, h


def window(cut: Box, shrink: float, height: int, width: int) -> tuple[slice, slice]:
    """Rows and columns of a cut in a picture (height, width) that is `shrink` times smaller than the file."""
    x, y, w, h = (round(value / shrink) for value in cut)
    return Rectangle(*within((x, y, w, h), height, width)).slices


def strips_within(
    strips: Iterable[tuple[int, np.ndarray]], rows: slice, columns: slice
) -> Iterator[tuple[int, np.ndarray]]:
    """Strips cut to some rows and columns, each with its first row counted from the cut's."""
    for top, strip in strips:
        first, end = max(top, rows.start), min(top + len(strip), rows.stop)
        if first < end:
            yield first - rows.start, np.ascontiguousarray(strip[first - top : end - top, columns])
