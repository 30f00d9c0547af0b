"""From a place on a scan to a place on the film."""

from __future__ import annotations

from dataclasses import dataclass, replace

from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark


@dataclass(frozen=True, slots=True)
class Lie:
    """How scans lie on the film: first frame's start and frame pitch [mm], scale, whether the film runs from right to left."""

    first_frame_mm: float = 0.0
    frame_pitch_mm: float | None = None
    px_per_mm: float | None = None
    from_right: bool = False


def film_mm(x: float, picture: Rectangle, frame: int, lie: Lie) -> float | None:
    """Place along the film [mm from the head] of a column of a frame's scan; None without a scale and a pitch.

    first-frame-mm + (frame − 1) · pitch + (x − picture.x) / px-per-mm; where the film runs from
    right to left (its head lies right, or the scan is mirrored; not both) from the picture's right edge.
    """
    if not lie.px_per_mm or not lie.frame_pitch_mm:
        return None
    within = (picture.x + picture.w - x) if lie.from_right else (x - picture.x)
    return lie.first_frame_mm + (frame - 1) * lie.frame_pitch_mm + within / lie.px_per_mm


def placed(mark: Mark, picture: Rectangle, frame: int, lie: Lie) -> Mark:
    """The mark with its place along and across the film."""
    x, y = mark.box.centre
    across = min(1.0, max(0.0, (y - picture.y) / picture.h)) if picture.h else None
    return replace(mark, film_mm=film_mm(x, picture, frame, lie), across=across)
