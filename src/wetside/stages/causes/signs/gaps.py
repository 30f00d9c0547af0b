"""How dense the unexposed film between two frames is across the film's width, from the scans that show it.

Theory. Beside a picture lies film that saw no light, and it crosses the whole width, where the rebate above and below
shows its two ends alone. So an additive stain, of whatever shape across the film, stands there by itself. The picture's
soft rim, a neighbour's picture beyond the gap, holes, print and dust are left out: by their distance, by being denser over
much of the width, and by medians over columns and over frames.
"""

from __future__ import annotations

import numpy as np

from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left

#: What lies so near a picture or the scan's end is not read: pixels, and a share of the picture's width besides.
RIM, OF_WIDTH, END = 2.5, 0.004, 2
#: Columns of a gap that are read at the most, no farther than this share of the picture's width; fewest that tell it.
MOST, REACH, FEWEST = 20, 0.12, 2
#: Lines read in each row of the profile, at the most.
LINES = 4
#: A neighbour's picture is denser than the gap by so much [D] over so much of the width; columns before it that may be soft.
DENSER, WIDE, SOFT = 0.03, 0.15, 2
#: A row whose columns scatter by more [D] is no even film; a gap that is so far [D] off the frame's base is none.
UNEVEN, FAR = 0.02, 0.25
#: A gap must be told in so many of its rows.
TOLD = 0.6
LOST = np.uint16(int(Left.PERFORATION | Left.OUTSIDE_FILM | Left.CLIPPED | Left.BLACK | Left.NOT_FINITE))


def gaps_across(frame: DensityFrame, rows: int) -> np.ndarray | None:
    """Density (2, rows, 3) [D] of the film left and right of a frame's picture, from its top (across 0) to its bottom (1); NaN
    where that is not told, None where neither gap is shown."""
    left, right = (_side(frame, rows, way) for way in (-1, 1))
    if left is None and right is None:
        return None
    unseen = np.full((rows, 3), np.nan)
    return np.stack([unseen if side is None else side for side in (left, right)])


def _side(frame: DensityFrame, rows: int, way: int) -> np.ndarray | None:
    """The gap on one side (rows, 3) [D]: left of the picture (way −1) or right of it (1)."""
    columns = _columns(frame, rows, way)
    if columns is None:
        return None
    own = middle_of(columns, axis=1)
    reach = _reach(own)
    if reach < FEWEST:
        return None
    own = own[:, :reach]
    middle = middle_of(own, axis=1)
    scatter = 1.4826 * middle_of(np.abs(own - middle[:, None]), axis=1)
    known = (np.isfinite(own).sum(axis=1) >= FEWEST) & (scatter < UNEVEN)
    middle[~known.all(axis=1)] = np.nan
    if known.all(axis=1).mean() < TOLD:
        return None
    if frame.base is not None and np.abs(middle_of(middle) - np.array(frame.base)).max() > FAR:
        return None
    return middle


def _columns(frame: DensityFrame, rows: int, way: int) -> np.ndarray | None:
    """Densities (rows, lines, columns, 3) [D] beside the picture, outwards from it as it lies turned; NaN where none is told."""
    tall, wide = frame.density.shape[:2]
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    lines = int(np.clip(h / rows, 1, LINES))
    down = y + (np.arange(rows * lines) + 0.5) * h / (rows * lines)
    edge = (x + w if way > 0 else x) - (down - y - h / 2) * np.tan(np.radians(frame.angle))
    reach = int(min(REACH * w, np.max((wide - edge) if way > 0 else edge)) - RIM - OF_WIDTH * w)
    reach = min(MOST, reach)
    if reach < FEWEST:
        return None
    out = RIM + OF_WIDTH * w + np.arange(reach)
    at = np.floor(edge[:, None] + way * out).astype(int)
    row = np.clip(down.astype(int), 0, tall - 1)[:, None]
    inside = (at >= END) & (at < wide - END) & (down >= 0)[:, None] & (down < tall)[:, None]
    at = np.clip(at, 0, wide - 1)
    inside &= (frame.mask[row, at] & LOST) == 0
    values = np.where(inside[..., None], frame.density[row, at], np.nan)
    return values.reshape(rows, lines, reach, 3)


def _reach(own: np.ndarray) -> int:
    """How many columns (rows, columns, 3), outwards from the picture, are the gap's: up to what is denser over much of the width."""
    near = np.where(np.isfinite(own), own, np.inf)
    thinnest = np.minimum.accumulate(near, axis=1)
    known = np.isfinite(own).all(axis=2)
    denser = known & ((near - np.where(np.isfinite(thinnest), thinnest, 0)).max(axis=2) > DENSER)
    share = denser.sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    beyond = np.flatnonzero((share > WIDE) | (known.mean(axis=0) < 0.25))
    if len(beyond) == 0:
        return own.shape[1]
    at = int(beyond[0])
    return max(0, at - SOFT) if share[at] > WIDE else at


def middle_of(values: np.ndarray, axis: int = 0) -> np.ndarray:
    """Median along an axis of what is not NaN; NaN where nothing is."""
    ordered = np.sort(values, axis=axis)
    count = np.isfinite(values).sum(axis=axis, keepdims=True)
    low, high = (
        np.take_along_axis(ordered, np.maximum(at, 0), axis) for at in ((count - 1) // 2, count // 2)
    )
    return np.where(count > 0, (low + high) / 2, np.nan).squeeze(axis)
