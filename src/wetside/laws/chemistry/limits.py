"""How far a control strip may depart from its aim: published limits in status M density.

Action limits call for a look at the process, control limits for a halt. One strip out: repeat it; two in a row: act.
Sources: h-24-01 table 1-5 (ECN-2), z-131 table 5-1 (C-41).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Measure = Literal["dmin", "ld", "md", "hd", "hd_ld"]
MEASURES: tuple[Measure, ...] = ("dmin", "ld", "md", "hd", "hd_ld")
SAY: dict[str, str] = {"dmin": "D-min", "ld": "LD", "md": "MD", "hd": "HD", "hd_ld": "HD−LD"}
TELLS: dict[str, str] = {
    "dmin": "fog, stain, age", "ld": "speed: time, temperature, strength", "md": "the middle of the scale",
    "hd": "the dense end", "hd_ld": "contrast: agitation, oxidation, strength",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Limit:
    """Action and control limit [D, status M]; `one_sided`: only a rise counts."""

    action: float
    control: float
    one_sided: bool = False

    def scaled(self, contrast: float) -> Limit:
        """The same limits for a reader whose densities grow by `contrast` for each 1 of status M."""
        return Limit(self.action * contrast, self.control * contrast, self.one_sided)

    def state(self, departure: float) -> Literal["within", "beyond action", "beyond control"]:
        """Where a departure from the aim lies; a hair of rounding does not put it outside."""
        size = departure if self.one_sided else abs(departure)
        if size > self.control + 1e-9:
            return "beyond control"
        return "beyond action" if size > self.action + 1e-9 else "within"


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of a process: one a measure where listed, the widest gap between two layers, and their source."""

    by_measure: dict[Measure, Limit]
    colour_spread: float | None
    source: str


LIMITS: dict[str, Limits] = {
    "ecn-2": Limits(
        {"dmin": Limit(0.03, 0.05, True), "ld": Limit(0.03, 0.05), "md": Limit(0.05, 0.07), "hd": Limit(0.06, 0.08),
         "hd_ld": Limit(0.05, 0.07)},
        None, "h-24-01",
    ),
    "c-41": Limits(
        {"dmin": Limit(0.03, 0.05, True), "ld": Limit(0.06, 0.08), "hd_ld": Limit(0.07, 0.09)}, 0.09, "z-131"
    ),
}  # fmt: skip

#: Contrast of camera density over status M under white light, r g b. Computed on synthetic dyes: an assumption until calibrated.
WHITE_LIGHT = (0.73, 0.81, 0.84)
