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


#: Agent (g) that a square metre takes, from 900 mL of replenisher on 100 ft of 35 mm (computed, rests on memory);
#: and g per litre of the working developer, source h-24-07.
AGENT_PER_AREA, AGENT_PER_LITRE = 1.10, 3.9


def agent_used(area: float, volume: float) -> tuple[Figure, Figure]:
    """Part of the developing agent spent by `area` mm² of film in `volume` mL, by two ways that disagree.

    First from replenishment (about 4.8 % a roll of 80 in² in 300 mL, computed), then from the bromide set free
    (7–18 %, inference). Fit the truth from your own strips; the space between them is the honest answer.
    """
    rolls = area / ROLL_AREA * 300 / volume
    part = AGENT_PER_AREA * area / 1e6 / (AGENT_PER_LITRE * volume / 1000)
    return (
        Figure(part, part / 5, "", "computed"),
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


def left_to_do(capacity: Figure, done: float, good: float) -> Figure:
    """mm² that a bath may still be asked for after `done` mm², when it works as mixed with chance `good`.

    The capacity is normal with its spread; what is left of it is never below zero; the chance multiplies it.
    Mean and spread are exact for that model: a used and ageing bath decays, it has no cliff.
    """
    assert capacity.spread is not None
    mean, spread = capacity.value - done, capacity.spread
    z = mean / spread
    below, peak = 0.5 * math.erfc(-z / math.sqrt(2)), math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    first = mean * below + spread * peak
    second = (mean * mean + spread * spread) * below + mean * spread * peak
    left = good * max(0.0, first)
    return Figure(left, math.sqrt(max(0.0, good * second - left * left)), capacity.unit, capacity.source)


def time_for_use(seconds: float, used: Figure) -> Figure:
    """s of development that a developer short of the part `used` asks for, its speed taken as ∝ agent (inference).

    It brings back the mean density only; bromide and the layers' balance are not brought back.
    """
    left = max(0.05, 1 - used.value)
    return Figure(seconds / left, seconds * (used.spread or 0.0) / left**2, "s", "inference")
