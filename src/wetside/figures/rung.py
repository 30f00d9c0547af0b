"""The evidence ladder: what is there, and what may therefore be said."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Rung:
    """One rung: what is there, what may be said, what the next rung would add."""

    level: int
    there: str
    may_say: str
    next_adds: str


LADDER: tuple[Rung, ...] = (
    Rung(
        0,
        "inverted or gamma-coded files",
        "evenness, marks and drift from frame to frame; never a density",
        "linear 16-bit scans, not inverted, all corrections off",
    ),
    Rung(
        1,
        "linear scans, exposure not locked, no rebate",
        "marks and evenness; densities only relative within a frame",
        "the unexposed rebate in every frame, or a locked exposure",
    ),
    Rung(
        2,
        "linear scans with rebate",
        "density above base, roll cast, consistent positives",
        "one scan of the light without film, same exposure",
    ),
    Rung(
        3,
        "an open-gate scan as well",
        "camera density, D-min, the light's own unevenness taken out",
        "patches of known exposure or density: a grey scale, a chart",
    ),
    Rung(
        4,
        "known patches as well",
        "curves, calibrated density, speed, crossover",
        "home control strips and the bench log over several runs",
    ),
    Rung(
        5,
        "home strips and the bench log over several runs",
        "control of the process, causes with numbers, the stock's card",
        "nothing: this is the top",
    ),
)
