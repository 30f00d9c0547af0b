"""What a bath can still do, by film area and by age: a decaying estimate with spread, never a cliff."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wetside.figures.figure import Figure

#: 80 square inches, the film of one 36-frame 35 mm roll, in mm².
ROLL_AREA = 80 * 25.4**2

#: mL of developer a roll of 80 in² is worth: about 16 rolls in 5 L (amateur batch limit, source ss0514 row of C-41).
BATCH_ML_PER_ROLL = 312.0


@dataclass(frozen=True, slots=True)
class Keeping:
    """Days until a bath has lost so much that it should be tested: a log-normal guess, `factor` one spread."""

    days: float
    factor: float
    source: str


KEEPING = {
    ("developer", "full"): Keeping(35, 1.6, "bench-memory"),
    ("developer", "half"): Keeping(10, 1.6, "bench-memory"),
    ("developer", "open"): Keeping(3, 2.0, "bench-memory"),
    ("developer", "home"): Keeping(17, 1.5, "common-practice"),
    ("fixer", "full"): Keeping(180, 1.4, "bench-keeping"),
    ("fixer", "half"): Keeping(30, 1.4, "bench-keeping"),
    ("fixer", "open"): Keeping(7, 1.4, "bench-keeping"),
}


def agent_used(area: float, volume: float) -> tuple[Figure, Figure]:
    """Part of the developing agent spent by `area` mm² of film in `volume` mL, by two ways that disagree.

    First from replenishment (4.8 % a roll of 80 in² in 300 mL, computed), then from the bromide set free
    (7–18 %, inference). Fit the truth from your own strips; the space between them is the honest answer.
    """
    rolls = area / ROLL_AREA * 300 / volume
    return (
        Figure(0.048 * rolls, 0.01 * rolls, "", "computed"),
        Figure(0.125 * rolls, 0.03 * rolls, "", "inference"),
    )


def capacity_area(volume: float) -> Figure:
    """mm² of film that `volume` mL of developer may be asked to do, by the amateur batch limit. Spread a third."""
    area = volume / BATCH_ML_PER_ROLL * ROLL_AREA
    return Figure(area, area / 3, "mm²", "bench-batch")


def still_good(role: str, days: float, bottle: str = "full") -> float:
    """Chance from 0 to 1 that a bath of that age still works as mixed."""
    keeping = KEEPING.get((role, bottle))
    if keeping is None or days <= 0:
        return 1.0
    z = math.log(days / keeping.days) / math.log(keeping.factor)
    return 0.5 * math.erfc(z / math.sqrt(2))
