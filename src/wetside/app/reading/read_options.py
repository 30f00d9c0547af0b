"""What the user knows of a roll before it is read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from wetside.figures.place import Rectangle
from wetside.stages.causes.signs.repeats import ReelHint


@dataclass(frozen=True)
class PatchAt:
    """A rectangle of a named file."""

    file: str
    box: Rectangle


@dataclass(frozen=True)
class ReadOptions:
    """What the caller knows of the roll; everything may be left out: `head` and `perf` are then the book's, or left and top. `only`: names of the files that are read, the others passed over."""

    open_gate: Path | None = None
    exposure_ratio: float | None = None
    gauge: str | None = None
    frame_pitch: float | None = None
    perf_pitch: float | None = None
    px_per_mm: float | None = None
    first_frame_mm: float = 0.0
    reel: ReelHint | None = None
    head: str | None = None
    perf: str | None = None
    mirrored: bool = False
    patches: tuple[PatchAt, ...] = ()
    marks: bool = True
    picture_at: tuple[PatchAt, ...] = ()
    base_at: PatchAt | None = None
    only: frozenset[str] | None = None

    @property
    def from_right(self) -> bool:
        """Whether the film runs from right to left in the scans: the head lies right, or they are mirrored; not both."""
        return (self.head == "right") != self.mirrored
