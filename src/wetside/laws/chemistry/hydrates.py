"""The water that a salt holds: how much of the hydrate on the shelf stands for the one in the formula.

Mass ∝ M(salt) + n·M(water). Atomic weights are the abridged standard ones (source atomic-weights).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from wetside.figures.finding import Unusable

ATOMIC_WEIGHTS = {
    "H": 1.008, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990, "S": 32.06, "K": 39.098,
}  # fmt: skip
WATER = "H2O"


@dataclass(frozen=True, slots=True)
class Salt:
    """A salt's formula without water, and the hydrates that are sold."""

    formula: str
    hydrates: tuple[float, ...]


SALTS: dict[str, Salt] = {
    "sodium carbonate": Salt("Na2CO3", (0, 1, 10)),
    "sodium sulfite": Salt("Na2SO3", (0, 7)),
    "sodium sulfate": Salt("Na2SO4", (0, 10)),
    "sodium thiosulfate": Salt("Na2S2O3", (0, 5)),
    "potassium carbonate": Salt("K2CO3", (0, 1.5)),
    "borax": Salt("Na2B4O7", (0, 5, 10)),
}
NAMES = {0: "anhydrous", 1: "monohydrate", 1.5: "sesquihydrate", 5: "pentahydrate", 7: "heptahydrate", 10: "decahydrate"}  # fmt: skip


def molar_mass(formula: str) -> float:
    """g/mol of a formula without brackets, as in Na2CO3."""
    found = re.findall(r"([A-Z][a-z]?)(\d*)", formula)
    return sum(ATOMIC_WEIGHTS[atom] * int(count or 1) for atom, count in found)


def hydrate_factor(salt: str, had: float, wanted: float) -> float:
    """Mass of the hydrate with `wanted` waters for one unit of mass of that with `had` waters."""
    known = SALTS.get(salt)
    if known is None:
        raise Unusable(f"no salt {salt!r}; one of {', '.join(SALTS)}", "hydrate")
    for waters in (had, wanted):
        if waters not in known.hydrates:
            sold = ", ".join(f"{n:g} ({NAMES[n]})" for n in known.hydrates)
            raise Unusable(f"{salt} is sold with {sold} waters; found {waters:g}", "hydrate")
    dry, water = molar_mass(known.formula), molar_mass(WATER)
    return (dry + wanted * water) / (dry + had * water)


def called(salt: str, waters: float) -> str:
    """The name on the jar: sodium carbonate, monohydrate."""
    return f"{salt}, {NAMES[waters]}"
