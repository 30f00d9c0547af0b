"""What scans show of the film: where a frame's picture lies, its base, its holes; and the regions round a picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wetside.figures.channels import RGB
from wetside.figures.finding import Finding
from wetside.figures.place import Rectangle
from wetside.figures.reading import Base
from wetside.stages.negative.found.base import Part
from wetside.stages.negative.found.perforations import Perforations
from wetside.stages.negative.found.picture import Edges
from wetside.stages.negative.scanner.working import Working

if TYPE_CHECKING:
    from wetside.stages.negative.scanner.fall_off import FallOff
    from wetside.stages.negative.scanner.light_surface import Surface


#: Two scans whose rebates lie closer than this [D] were made at one exposure.
LEVEL = 0.01


@dataclass(frozen=True)
class FilmOfFrame:
    """What one frame shows of the film: picture edges in working pixels, its base, its perforations, the angle it lies at.

    `angle` [degrees], clockwise positive, counts from 0.25° on; edges are then those of the picture set upright.
    """

    edges: Edges
    seen: bool
    base: RGB | None
    holes: Perforations | None
    angle: float = 0.0


@dataclass(frozen=True)
class FilmOfRoll:
    """What the roll shows. `levels` (k, 3) are the base's levels; None when no base was found.

    `shifts` [D], one a frame, when the scans' exposure was not locked: a frame's levels are `levels` + its shift.
    `fall` is the light's fall-off as the rebate shows it, where no open gate was scanned; `surface` the same before
    the pictures were found, where it was worth taking off. `light` [D] is how much the light changes from scan to scan.
    """

    levels: np.ndarray | None
    base: Base | None
    frames: tuple[FilmOfFrame, ...]
    findings: tuple[Finding, ...] = ()
    shifts: tuple[float, ...] = ()
    fall: FallOff | None = None
    surface: Surface | None = None
    light: RGB | None = None

    @property
    def level(self) -> bool:
        """True when most frames were scanned at one exposure, so that the light is known for them and by them for the rest."""
        return 2 * sum(abs(shift) < LEVEL for shift in self.shifts) > len(self.shifts) or not self.shifts

    def shift(self, index: int) -> float:
        """How far [D] the scan of a frame lies from the roll's exposure."""
        return self.shifts[index] if self.shifts else 0.0

    def levels_of(self, index: int) -> np.ndarray | None:
        """The base's levels (k, 3) [D] in one frame's own exposure."""
        return None if self.levels is None else self.levels + self.shift(index)


def outside_picture(shape: tuple[int, int], edges: Edges) -> np.ndarray:
    """True outside the picture, a few pixels away from its edge."""
    outside = np.ones(shape, bool)
    left, top, right, bottom = edges
    outside[max(0, int(top) - 3) : int(bottom) + 4, max(0, int(left) - 3) : int(right) + 4] = False
    return outside


def parts_outside(shape: tuple[int, int], edges: Edges) -> list[Part]:
    """`outside_picture` as up to four parts of a frame, none over another."""
    height, width = shape
    left, top, right, bottom = (int(v) for v in edges)
    first, last = min(height, max(0, top - 3)), min(height, max(0, bottom + 4))
    before, behind = min(width, max(0, left - 3)), min(width, max(0, right + 4))
    if first >= last or before >= behind:
        return [np.s_[0:height, 0:width]]
    parts = (
        np.s_[0:first, 0:width],
        np.s_[last:height, 0:width],
        np.s_[first:last, 0:before],
        np.s_[first:last, behind:width],
    )
    return [part for part in parts if _pixels(part)]


def parts_beside(shape: tuple[int, int], edges: Edges) -> dict[str, Part]:
    """Strips above, below, left and right of the picture, away from its corners; those that hold a pixel."""
    height, width = shape
    left, top, right, bottom = (int(v) for v in edges)
    along, down = slice(max(0, left), min(width, right)), slice(max(0, top), min(height, bottom))
    parts = {
        "top": (slice(0, max(0, top - 3)), along),
        "bottom": (slice(max(0, bottom + 4), height), along),
        "left": (down, slice(0, max(0, left - 3))),
        "right": (down, slice(max(0, right + 4), width)),
    }
    return {side: part for side, part in parts.items() if _pixels(part)}


def _pixels(part: Part) -> int:
    """How many pixels a part of a frame holds."""
    tall, wide = (max(0, cut.stop - cut.start) for cut in part)
    return tall * wide


def rectangle(edges: Edges, frame: Working) -> Rectangle:
    """Edges in working pixels as a rectangle of whole pixels of the file."""
    left, top, right, bottom = (round(v * frame.shrink) for v in edges)
    return Rectangle(left, top, right - left, bottom - top).clipped_to(frame.width, frame.height)
