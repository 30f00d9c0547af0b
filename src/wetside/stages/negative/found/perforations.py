"""Perforations: holes through which the bare light comes, in a row at one pitch near the film's edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import cv2
import numpy as np

from wetside.stages.negative.scanner.working import Working


@dataclass(frozen=True, slots=True)
class Perforations:
    """Centres along the film [working pixels] of one frame's holes, their pitch, and the edge they lie at."""

    centres: tuple[float, ...]
    pitch: float | None
    edge: Literal["top", "bottom", "both"]


class Hole(NamedTuple):
    """A clear area's middle, its width and height [working pixels], and how much of that box is clear."""

    x: float
    y: float
    wide: int
    tall: int
    full: float

    def like(self, other: Hole) -> bool:
        """Whether it is of another's size within a fifth, or of its width and a part of its height, on one row with it."""
        if abs(self.wide - other.wide) > 0.2 * other.wide + 2:
            return False
        return abs(self.tall - other.tall) <= 0.2 * other.tall + 2 or self._part_of_a_row(other)

    def _part_of_a_row(self, other: Hole) -> bool:
        """A hole that a picture partly covers keeps its width and one of its edges; a tilt of some degrees allowed for."""
        taller = max(self.tall, other.tall)
        edges = (abs(self.y + side * self.tall - other.y - side * other.tall) for side in (-0.5, 0.5))
        alike = abs(self.wide - other.wide) <= 0.1 * other.wide and min(self.full, other.full) > 0.9
        return alike and min(edges) < 0.3 * taller


#: Without an open gate bare light lies at no known density, but this much [D] under a masked base: no place on film does, and
#: a light's fall-off, alike in all layers, does not reach it in blue (common practice).
UNDER_BASE = (0.08, 0.2, 0.35)


def clear(frame: Working, base: np.ndarray) -> np.ndarray:
    """Where a frame (h, w) lets through light that no film dims: thinner than a third of the base in all layers, or as far under
    it as a mask is dense."""
    found = frame.under(np.minimum(base * 0.4, base - 0.08))
    found |= frame.under(base - UNDER_BASE)
    return found


def perforations(holes: np.ndarray) -> Perforations | None:
    """Holes found as separate clear areas (h, w) bool of like size; None when fewer than one is seen."""
    count, _, stats, centres = cv2.connectedComponentsWithStats(holes.view(np.uint8), connectivity=4)
    height, width = holes.shape
    found = []
    for i in range(1, count):
        x, _y, w, h, area = (int(v) for v in stats[i])
        whole = x > 0 and x + w < width
        if area > 0.75 * w * h and 6 <= w < 0.25 * width and 6 <= h < 0.3 * height and whole:
            found.append(Hole(float(centres[i][0]), float(centres[i][1]), w, h, area / (w * h)))
    if not found:
        return None
    like = _of_one_size(found)
    top = sorted(hole.x for hole in like if hole.y < height / 2)
    bottom = sorted(hole.x for hole in like if hole.y >= height / 2)
    edge: Literal["top", "bottom", "both"] = "both" if top and bottom else "top" if top else "bottom"
    row = top if len(top) >= len(bottom) else bottom
    return Perforations(tuple(row), _pitch(row), edge)


def _of_one_size(found: Sequence[Hole]) -> list[Hole]:
    """The holes of the size that most have; of sizes as frequent, those that fill their box best: light beside the film is a wedge."""
    return max(([one for one in found if one.like(other)] for other in found), key=lambda ones: (len(ones), sum(one.full for one in ones)))  # fmt: skip


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
