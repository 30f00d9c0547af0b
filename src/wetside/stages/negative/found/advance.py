"""How far the film moved from frame to frame, measured where several frames lie in one file.

Answers: what is the frame pitch, is it even, and where along the film does each frame begin? Needs a scale and two
frames that show their edges in one file. A reloaded small cartridge stops at any hole, so its frames lie unevenly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.reading import Geometry

#: Steps that differ by more than this [mm] are uneven; the demo's and studies' even films scatter by a tenth of it.
UNEVEN = 0.8


@dataclass(frozen=True, slots=True)
class Lying:
    """A frame's file (and its strip, where several lie side by side), the middle of its picture along the film [px of the file], and whether gaps show its edges."""

    file: str
    middle: float
    seen: bool


def steps_mm(frames: Sequence[Lying], px_per_mm: float) -> list[float | None]:
    """Distance [mm] from each frame to the next; None where the two lie in different files or strips or one shows no edge."""
    return [
        abs(b.middle - a.middle) / px_per_mm if a.file == b.file and a.seen and b.seen else None
        for a, b in pairwise(frames)
    ]


def with_advance(
    lengths: Geometry, frames: Sequence[Lying], given: bool
) -> tuple[Geometry, tuple[Finding, ...]]:
    """Lengths with the measured frame pitch, its spread, and where uneven frames begin from the first one.

    A pitch that the user gave stays; one measured counts before the gauge's. Spread [mm]: the steps' own scatter over
    the root of their number, and the scale's spread.
    """
    if not lengths.px_per_mm:
        return lengths, ()
    steps = steps_mm(frames, lengths.px_per_mm)
    known = np.array([step for step in steps if step is not None])
    if len(known) == 0 or given:
        return lengths, ()
    pitch = float(np.median(known))
    scatter = 1.4826 * float(np.median(np.abs(known - pitch))) / len(known) ** 0.5
    of_scale = pitch * (lengths.px_per_mm_spread or 0.0) / lengths.px_per_mm
    said = f"frame pitch measured over {len(known)} step{'s' if len(known) > 1 else ''}"
    source = "; ".join(
        [word for word in lengths.source.split("; ") if not word.startswith("frame pitch")] + [said]
    )
    found = replace(
        lengths, frame_pitch_mm=pitch, frame_pitch_spread_mm=float(np.hypot(scatter, of_scale)), source=source
    )
    if np.ptp(known) <= UNEVEN:
        return found, ()
    starts = np.concatenate([[0.0], np.cumsum([pitch if step is None else step for step in steps])])
    return replace(found, starts_mm=tuple(float(s) for s in starts)), (
        Finding("frames-uneven", "note", "roll", "the frames lie unevenly along the film; places are counted from what was measured",
                "one frame pitch", f"{known.min():.1f} to {known.max():.1f} mm from frame to frame"),
    )  # fmt: skip
