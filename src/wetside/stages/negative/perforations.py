"""Perforations: holes through which the bare light comes, in a row at one pitch near the film's edge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from wetside.stages.negative.working import Working


@dataclass(frozen=True, slots=True)
class Perforations:
    """Centres along the film [working pixels] of one frame's holes, their pitch, and the edge they lie at."""

    centres: tuple[float, ...]
    pitch: float | None
    edge: Literal["top", "bottom", "both"]


def clear(frame: Working, base: np.ndarray) -> np.ndarray:
    """Where a frame (h, w) is thinner than a third of the base in all layers: light that no film dims."""
    return frame.under(np.minimum(base * 0.4, base - 0.08))


def perforations(holes: np.ndarray) -> Perforations | None:
    """Holes found as separate clear areas (h, w) bool of like size; None when fewer than one is seen."""
    count, _, stats, centres = cv2.connectedComponentsWithStats(holes.view(np.uint8), connectivity=4)
    height, width = holes.shape
    found = []
    for i in range(1, count):
        x, _y, w, h, area = (int(v) for v in stats[i])
        whole = x > 0 and x + w < width
        if area > 0.75 * w * h and 6 <= w < 0.25 * width and 6 <= h < 0.3 * height and whole:
            found.append((float(centres[i][0]), float(centres[i][1]), w, h))
    if not found:
        return None
    size = np.median([f[2] for f in found]), np.median([f[3] for f in found])
    like = [
        f
        for f in found
        if abs(f[2] - size[0]) <= 0.2 * size[0] + 2 and abs(f[3] - size[1]) <= 0.2 * size[1] + 2
    ]
    top = sorted(f[0] for f in like if f[1] < height / 2)
    bottom = sorted(f[0] for f in like if f[1] >= height / 2)
    edge: Literal["top", "bottom", "both"] = "both" if top and bottom else "top" if top else "bottom"
    row = top if len(top) >= len(bottom) else bottom
    return Perforations(tuple(row), _pitch(row), edge)


def _pitch(row: list[float]) -> float | None:
    """Least-squares pitch of evenly spaced holes; missing holes are allowed for."""
    if len(row) < 2:
        return None
    step = float(np.median(np.diff(row)))
    numbers = np.round((np.array(row) - row[0]) / step)
    if len(row) == 2:
        return step
    slope, _ = np.polyfit(numbers, row, 1)
    return float(slope)
