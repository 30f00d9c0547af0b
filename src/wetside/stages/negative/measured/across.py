"""How evenly a strip's steps were developed across the film: density above the thinnest step, part by part from edge to edge.

Development that is uneven makes each step thinner by a share of what it holds, so the steps together tell that share better
than one does. A light that fell unevenly on the strip when it was exposed looks alike; it is the same on every strip of a batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from wetside.figures.place import Rectangle
from wetside.figures.scan import Scan
from wetside.stages.negative.measured.patches import spot
from wetside.stages.negative.scanner.working import Light

#: Parts across the film; how dense [D] over the thinnest a step must be to tell; fewest pixels of a part's side.
PARTS, DENSE, FEWEST = 5, 0.3, 4
#: By how much steps of a grid one cell high are looked at beyond their cores, which are 0.4 of a cell: 0.84 of it.
BEYOND = 2.1
#: What a part may hold of its step's middle: less or more is no film of that step (a tank filled too low takes a third at the most).
LEAST, MOST = 0.55, 1.2


def developed_across(
    scan: Scan, boxes: Sequence[Rectangle], open_gate: Scan | None, light: Light, cores: bool = False
) -> np.ndarray | None:
    """Density above the thinnest step across the film (PARTS, 3), 1 in the mean, first the top or left edge; None where untold.

    `boxes` of the steps, side by side along the film; `cores`: they are the cores of a grid's cells, which reach further.
    """
    along_x = _lies_along_x(boxes)
    wider = [_beyond(box, along_x) for box in boxes] if cores else boxes
    parts = [_parts(box, along_x) for box in wider]
    if len(boxes) < 3 or min(min(one.w, one.h) for own in parts for one in own) < FEWEST * scan.shrink:
        return None
    seen = [
        [spot(scan, one, open_gate, light.dark, light.ratio(scan)).density for one in own] for own in parts
    ]
    if any(one is None for own in seen for one in own):
        return None
    density = np.array(seen, float)  # (steps, PARTS, 3)
    above = density - density[int(density.mean(axis=(1, 2)).argmin())]
    dense = above[above.mean(axis=(1, 2)) > DENSE]
    if not len(dense):
        return None
    share = dense / dense[:, PARTS // 2][:, None]
    if not ((share > LEAST) & (share < MOST)).all():
        return None
    told = dense.sum(axis=0)
    return np.asarray(told / told.mean(axis=0))


def _lies_along_x(boxes: Sequence[Rectangle]) -> bool:
    x, y = np.array([box.centre for box in boxes]).T
    return bool(np.ptp(x) >= np.ptp(y))


def _beyond(box: Rectangle, along_x: bool) -> Rectangle:
    """A core grown across the film."""
    if along_x:
        more = round((BEYOND - 1) / 2 * box.h)
        return Rectangle(box.x, box.y - more, box.w, box.h + 2 * more)
    more = round((BEYOND - 1) / 2 * box.w)
    return Rectangle(box.x - more, box.y, box.w + 2 * more, box.h)


def _parts(box: Rectangle, along_x: bool) -> list[Rectangle]:
    """A step's box cut across the film."""
    cuts = [round(part * (box.h if along_x else box.w) / PARTS) for part in range(PARTS + 1)]
    pairs = list(pairwise(cuts))
    if along_x:
        return [Rectangle(box.x, box.y + a, box.w, b - a) for a, b in pairs]
    return [Rectangle(box.x + a, box.y, b - a, box.h) for a, b in pairs]
