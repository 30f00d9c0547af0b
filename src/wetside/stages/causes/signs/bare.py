"""Bare film inside a picture: sharp patches of the base's own colour where developer never reached.

A thing in the scene that is black enough may look like it too; so a patch counts only where exposed film surrounds it
by a clear step all the way round, where the picture itself holds little other film that thin, and where no layer is
denser than the unexposed film beside the picture, beyond what grain leaves open: film that no developer reached has not
even the fog of that film, while a black thing was lit by the camera's own stray light at the least (common practice).
"""

from __future__ import annotations

import cv2
import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark
from wetside.laws.image.layers import areas_of

NEAR = 0.035
#: So near [D] over 6 × 6 pixels a picture lies in the middle of such a patch, and so many pixels round it are looked at.
ALMOST, AROUND = 0.05, 12
STEP = 0.12
NO_STEP = 0.12  # share of what lies round it that may be less than a step denser
MOST = 0.04
LEAST = 200  # [px] under which dark windows and pupils look like it; smaller ones are left to the net
#: How well [D] the base is known at a place between those where it was read, and one in how many pixels of a scan is its own.
KNOWN, ALIKE = 0.001, 4
CHANCE = 0.8  # judged, not measured: black things in the picture that are sharp all round are taken for it


def bare_patches(frame: DensityFrame, window: Rectangle, half: np.ndarray) -> tuple[Mark, ...]:
    """Marks of kind "bare" within a window of the working image, `half` being the window at half size; none where the base was not seen."""
    if frame.base is None:
        return ()
    solid = _solid(frame.density[window.slices], np.array(frame.base), half)
    share = cv2.countNonZero(solid) / solid.size
    if share == 0 or share > 2.5 * MOST:
        return ()
    labels, stats = areas_of(solid)
    large = np.flatnonzero(stats[1:, cv2.CC_STAT_AREA] >= LEAST) + 1
    found = [_mark(frame, window, labels, stats[i], i) for i in large.tolist()]
    return tuple(mark for mark in found if mark is not None)


def _solid(density: np.ndarray, base: np.ndarray, half: np.ndarray) -> np.ndarray:
    """Where a picture (h, w, 3) [D] has the base's density in every layer over 5 × 5 pixels, its rim left out: (h, w) uint8."""
    height, width = density.shape[:2]
    thin = np.zeros((height, width), np.uint8)
    for box in _where_thin(half, base):
        part = box.clipped_to(width, height).slices
        even = cv2.GaussianBlur(density[part], (0, 0), 1.2)
        own = cv2.inRange(even, tuple(base - NEAR), tuple(base + NEAR))
        np.bitwise_or(thin[part], own, out=thin[part])
    if not thin.any():
        return thin
    rim = max(3, min(width, height) // 80)
    thin[:rim] = thin[-rim:] = 0
    thin[:, :rim] = thin[:, -rim:] = 0
    return cv2.morphologyEx(thin, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))


def _where_thin(half: np.ndarray, base: np.ndarray) -> list[Rectangle]:
    """Parts of a picture outside of which no place is of the base's density, from its half size and generously; they may share pixels."""
    even = cv2.blur(half, (3, 3))
    near = cv2.inRange(even, tuple(base - ALMOST), tuple(base + ALMOST))
    if cv2.countNonZero(near) < LEAST // 8:
        return []
    _, stats = areas_of(near)
    large = stats[1:][stats[1:, cv2.CC_STAT_AREA] >= LEAST // 8]
    return [
        Rectangle(2 * x - AROUND, 2 * y - AROUND, 2 * (w + AROUND), 2 * (h + AROUND))
        for x, y, w, h, _ in large.tolist()
    ]


def _mark(
    frame: DensityFrame,
    window: Rectangle,
    labels: np.ndarray,
    stat: np.ndarray,
    index: int,
) -> Mark | None:
    x, y, w, h, area = (int(v) for v in stat)
    if area > MOST * labels.size or area < 0.45 * w * h or min(w, h) < 6:
        return None
    pad = 8
    box = Rectangle(x - pad, y - pad, w + 2 * pad, h + 2 * pad).clipped_to(labels.shape[1], labels.shape[0])
    own = (labels[box.slices] == index).astype(np.uint8)
    near = cv2.dilate(own, np.ones((5, 5), np.uint8))
    ring = (cv2.dilate(own, np.ones((13, 13), np.uint8)) - near).astype(bool)
    density, base = frame.density[window.slices][box.slices], np.array(frame.base, np.float32)
    around = density[ring] - base
    if len(around) < 20 or np.count_nonzero(around.sum(axis=1) < 3 * STEP) > NO_STEP * len(around):
        return None
    inside = density[own.astype(bool)] - base
    if _exposed(inside, _tilt(frame, (y + h / 2) / window.h)):
        return None
    delta = np.median(inside, axis=0) - np.median(around, axis=0)
    scale = frame.shrink
    place = Rectangle(
        round((window.x + x) * scale), round((window.y + y) * scale), round(w * scale), round(h * scale)
    )
    outlines, _ = cv2.findContours(own, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    outline = max(outlines, key=len)[:, 0, :][:40]
    left, top = window.x + box.x, window.y + box.y
    points = tuple((round((left + int(px)) * scale), round((top + int(py)) * scale)) for px, py in outline)
    return Mark(place, None, None, rgb(delta), "sharp", "bare", rgb(around.std(axis=0)), None, points, CHANCE)


def _tilt(frame: DensityFrame, across: float) -> np.ndarray:
    """By how much (3,) [D] the base is denser at a place across the picture than the frame's own, from above and below it."""
    base = np.array(frame.base)
    if not {"top", "bottom"} <= frame.sides.keys():
        return np.zeros(3)
    (a, top), (b, bottom) = (
        (frame.places[side], np.array(frame.sides[side]) - base) for side in ("top", "bottom")
    )
    tilt: np.ndarray = top + (bottom - top) * (across - a) / (b - a)
    return tilt


def _exposed(above: np.ndarray, tilt: np.ndarray) -> bool:
    """Whether a place (n, 3) [D above base] is denser than unexposed film there in some layer, by more than KNOWN and two errors of its median."""
    middle = np.median(above, axis=0)
    scatter = 1.4826 * np.median(np.abs(above - middle), axis=0)
    error = 1.2533 * scatter / np.sqrt(max(1.0, len(above) / ALIKE))
    return bool((middle - tilt > KNOWN + 2 * error).any())
