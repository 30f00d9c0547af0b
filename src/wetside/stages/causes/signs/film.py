"""From a place on a scan to a place on the film."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, Mark

#: How far [mm] one place of the film may lie apart in two scans.
SLACK = 0.8


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


def each_once(frames: Sequence[FrameReading], px_per_mm: float | None) -> tuple[FrameReading, ...]:
    """The frames, a mark of the unexposed film that two neighbouring scans show left to the one that shows more of it."""
    kept = list(frames)
    if not px_per_mm:
        return tuple(kept)
    for number in range(1, len(kept)):
        before, after = kept[number - 1], kept[number]
        for one in [mark for mark in before.marks if mark.in_rebate]:
            twin = next(
                (m for m in after.marks if m.in_rebate and _same(one, before, m, after, px_per_mm)), None
            )
            if twin is None:
                continue
            if one.box.w * one.box.h >= twin.box.w * twin.box.h:
                after = replace(after, marks=tuple(m for m in after.marks if m is not twin))
            else:
                before = replace(before, marks=tuple(m for m in before.marks if m is not one))
        kept[number - 1], kept[number] = before, after
    return tuple(kept)


def _same(one: Mark, at: FrameReading, other: Mark, there: FrameReading, scale: float) -> bool:
    """Whether two marks lie at one place of the film, along and across, and change it alike."""
    if one.film_mm is None or other.film_mm is None:
        return False
    along = abs(one.film_mm - other.film_mm) * scale - (one.box.w + other.box.w) / 2
    down = abs((one.box.y + one.box.h / 2 - at.picture.y) - (other.box.y + other.box.h / 2 - there.picture.y))
    alike = sum(a * b for a, b in zip(one.delta, other.delta, strict=True)) > 0
    return (
        alike
        and along < -0.5 * min(one.box.w, other.box.w) + SLACK * scale
        and down < 0.5 * max(one.box.h, other.box.h) + SLACK * scale
    )
