"""Whether a scan was sharpened, by what it did beside the picture's edge.

An edge seen through a lens falls from the rebate's light to the picture's and never passes the rebate's. Sharpening, and
enlarging with a kernel that rings, lift a rim of the rebate above its own light; how far, as a share of the step, does not
depend on the scale. Only the picture's edge is asked: the film's own cut edges bend light and show rims without any
sharpening. What the light does along a few millimetres is a straight line, so what counts is what bends.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wetside.figures.place import Rectangle

#: Pixels looked at inside and outside the edge, and how many along it are taken together.
INSIDE, OUTSIDE, ALONG = 10, 16, 8
#: A step counts when the picture takes this share of the rebate's light at the least; the rebate, when even to this share.
STEP, EVEN = 0.25, 0.04
FEWEST = 24
#: A lifted rim of this share of the step is sharpening; generated scans without any lie under 0.008 (docs/studies.md).
LIFTED = 0.015


def lifted_rim(pixels: np.ndarray, picture: Rectangle) -> float | None:
    """By how much of its step the picture's edge lifts the rebate beside it; None where too little of an edge is seen.

    pixels: (h, w, 3), proportional to light, at the file's own size. The median over stretches of eight pixels along
    the four edges and over the layers.
    """
    found = [rim for strip in _strips(pixels, picture) for rim in _rims(strip)]
    if len(found) < FEWEST:
        return None
    lift = np.median(np.stack(found), axis=0)
    return float(lift.max())


def _strips(pixels: np.ndarray, picture: Rectangle) -> Iterator[np.ndarray]:
    """Each edge of a picture with its rebate (INSIDE + OUTSIDE, n, 3), from within outwards, n means along it."""
    x, y, w, h = picture
    lying, standing = pixels[:, x + 6 : x + w - 6], pixels[y + 6 : y + h - 6].transpose(1, 0, 2)
    sides = (
        (lying[::-1], len(lying) - y),
        (lying, y + h),
        (standing[::-1], len(standing) - x),
        (standing, x + w),
    )
    for side, at in sides:
        strip = side[max(0, at - INSIDE) : at + OUTSIDE].astype(np.float64)
        many = strip.shape[1] // ALONG
        if len(strip) == INSIDE + OUTSIDE and many:
            yield strip[:, : many * ALONG].reshape(len(strip), many, ALONG, 3).mean(axis=2)


def _rims(strip: np.ndarray) -> Iterator[np.ndarray]:
    """What each stretch and layer of an edge lifts at 1, 1.5 … 5 pixels from it, as a share of its step."""
    rebate = np.median(strip[-6:], axis=0)
    step = rebate - strip[:4].mean(axis=0)
    even = np.abs(strip[-6:] - rebate).max(axis=0) < EVEN * rebate
    for along, layer in zip(*np.nonzero(even & (step > STEP * rebate))):
        profile, high = strip[:, along, layer], rebate[along, layer]
        edge = _half(profile, high - step[along, layer] / 2)
        if edge is not None:
            yield _bend(profile, edge) / step[along, layer]


def _half(profile: np.ndarray, level: float) -> float | None:
    """Where a profile last rises through a level, to a part of a pixel; None where that lies too far from the edge's place."""
    below = np.flatnonzero(profile <= level)
    last = int(below[-1]) if len(below) else 0
    if not 3 <= last <= INSIDE + 3:
        return None
    return last + float((level - profile[last]) / (profile[last + 1] - profile[last]))


def _bend(profile: np.ndarray, edge: float) -> np.ndarray:
    """How far a profile lies over the line through its outer part, 1, 1.5 … 5 pixels outside an edge."""
    far = np.arange(edge + 6.5, len(profile) - 0.5)
    slope, at = np.polyfit(far, np.interp(far, np.arange(len(profile)), profile), 1)
    near = edge + np.arange(1.0, 5.01, 0.5)
    return np.interp(near, np.arange(len(profile)), profile) - (slope * near + at)
