"""From a place on a scan to a place on the film."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark


@dataclass(frozen=True, slots=True)
class Lie:
    """How scans lie on the film: first frame's start and frame pitch [mm], scale, which end is the head, mirrored or not."""

    first_frame_mm: float = 0.0
    frame_pitch_mm: float | None = None
    px_per_mm: float | None = None
    head: Literal["left", "right"] = "left"
    mirrored: bool = False
    perf: Literal["top", "bottom", "both"] = "top"


def film_mm(x: float, picture: Rectangle, frame: int, lie: Lie) -> float | None:
    """Place along the film [mm from the head] of a column of a frame's scan; None without a scale and a pitch.

    first-frame-mm + (frame − 1) · pitch + (x − picture.x) / px-per-mm; a scan whose head lies to the right, or one
    mirrored, is measured from the picture's right edge (both together: from the left again).
    """
    if not lie.px_per_mm or not lie.frame_pitch_mm:
        return None
    from_right = (lie.head == "right") != lie.mirrored
    within = (picture.x + picture.w - x) if from_right else (x - picture.x)
    return lie.first_frame_mm + (frame - 1) * lie.frame_pitch_mm + within / lie.px_per_mm


def placed(mark: Mark, picture: Rectangle, frame: int, lie: Lie) -> Mark:
    """The mark with its place along and across the film."""
    x, y = mark.box.centre
    across = min(1.0, max(0.0, (y - picture.y) / picture.h)) if picture.h else None
    return replace(mark, film_mm=film_mm(x, picture, frame, lie), across=across)
