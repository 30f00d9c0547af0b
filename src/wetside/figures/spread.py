"""The spread of a density, made in one place: what each cause adds, and the whole of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

from wetside.figures.channels import RGB

NONE = RGB(0.0, 0.0, 0.0)
WORDS = {
    "mean": "the scanner's noise and the film's grain",
    "light": "the light's own change from scan to scan",
    "veil": "stray light that lies unevenly",
    "base": "the base it counts from",
    "fall_off": "the light's fall-off, which no open gate took off",
    "calibration": "the calibration",
}


@dataclass(frozen=True, slots=True)
class Spread:
    """One standard deviation [D] of each cause; they are independent, so the whole is the root of their squares' sum.

    mean         of the patch: the scanner's noise, the film's grain, whatever makes its parts differ
    light        the light's own change from scan to scan
    veil         how unevenly the stray light may lie that was taken off
    base         how well the base is known that the density counts from
    fall_off     how well the light's fall-off is known where no open gate was scanned
    calibration  what the calibration adds to all of these
    """

    mean: RGB = NONE
    light: RGB = NONE
    veil: RGB = NONE
    base: RGB = NONE
    fall_off: RGB = NONE
    calibration: RGB = NONE

    def whole(self) -> RGB:
        """The spread (3,) [D] of the density."""
        parts = [getattr(self, one.name) for one in fields(self)]
        return RGB(*(math.sqrt(sum(part[layer] ** 2 for part in parts)) for layer in range(3)))

    def most(self) -> str:
        """The cause that adds most, in words."""
        return WORDS[max(fields(self), key=lambda one: max(getattr(self, one.name))).name]

    def as_json(self) -> dict[str, object]:
        return {one.name: getattr(self, one.name).as_json() for one in fields(self)}
