"""What faults of process, age and exposure do to the densities of a colour negative: signs, not magnitudes.

The published plots call themselves qualitative; so a sign is strong, a size is a weak prior, and the order of the
layers is left open. A loss of speed moves the low density along the toe, where the curve is flatter, and so costs some
HD−LD too (computed from any curve with a toe). Signs are −1, 0, +1 for r, g, b of D-min, of LD (speed) and of HD−LD (contrast).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Signs = tuple[float, float, float]
Curable = Literal["tonight", "in correction", "lost", "cannot say"]
UP, DOWN, FLAT = (1.0, 1.0, 1.0), (-1.0, -1.0, -1.0), (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault: its signs, whether it can be cured, what it looks like, what to change, and its source."""

    name: str
    where: Literal["wet side", "age", "camera", "scanner"]
    dmin: Signs
    ld: Signs
    hd_ld: Signs
    curable: Curable
    look: str
    change: str
    source: str


FAULTS: tuple[Fault, ...] = (
    Fault("developer hot or long", "wet side", (0.3, 0.3, 0.3), UP, UP, "in correction",
          "denser, steeper, layers part", "check the thermometer; count the pour", "h-24-08"),
    Fault("developer cold or short", "wet side", (-0.1, -0.1, -0.1), DOWN, DOWN, "in correction",
          "thinner, flatter, layers part", "warm tank and reel before the developer", "h-24-08"),
    Fault("low agitation", "wet side", FLAT, (-0.5, -0.5, -0.5), DOWN, "in correction",
          "like cold, with streaks", "agitate to the cue, every time", "ss0514"),
    Fault("developer too strong", "wet side", (0.5, 0.5, 0.5), UP, UP, "in correction",
          "all densities up, D-min too", "check the mixing volume", "h-24-08"),
    Fault("developer dilute or spent", "wet side", (-0.1, -0.1, -0.1), DOWN, (-1.0, -1.0, -1.3), "in correction",
          "thin and flat, blue most", "mix fresh; watch area and age", "h-24-08"),
    Fault("developer oxidised", "wet side", (0.3, 0.8, 1.0), DOWN, DOWN, "lost",
          "brown-magenta or yellow stain over a thin image", "mix fresh; keep bottles full", "cis-254"),
    Fault("bleach or fixer in the developer", "wet side", UP, (-0.3, -0.3, -0.3), DOWN, "lost",
          "fog with loss of contrast", "rinse tank, lid and reels between runs", "inference"),
    Fault("weak bleach: retained silver", "wet side", (0.3, 0.3, 0.3), (0.7, 0.7, 0.7), UP, "tonight",
          "all three layers denser alike, more where exposed", "bleach again and fix again; fresh bleach", "tg2044-1"),
    Fault("weak bleach: leuco-cyan", "wet side", FLAT, (-0.5, 0.0, 0.0), (-1.0, 0.0, 0.0), "tonight",
          "the red record alone is low at high densities", "bleach again in a good bleach", "tg2044-1"),
    Fault("weak fixer: retained halide", "wet side", (0.1, 0.2, 1.0), (0.1, 0.2, 1.0), FLAT, "tonight",
          "milky, yellow D-min", "fix again in a fresh fixer", "tg2044-1"),
    Fault("developer carried into the bleach", "wet side", (0.5, 0.9, 1.0), (0.5, 0.9, 1.0), FLAT, "in correction",
          "stain that pools at edges, holes and contacts", "use a stop bath and rinse before the bleach", "inference"),
    Fault("old stock", "age", (0.5, 0.6, 1.0), (-1.0, -0.8, -0.8), (-0.8, -0.8, -0.8), "in correction",
          "D-min up in unexposed film, blue most; speed and contrast lost", "rate it slower; keep film frozen", "inference"),
    Fault("underexposed", "camera", FLAT, DOWN, (-0.4, -0.4, -0.4), "in correction",
          "thin pictures on a normal base", "give more light; check meter and shutter", "common-practice"),
    Fault("overexposed", "camera", FLAT, UP, FLAT, "in correction",
          "dense pictures on a normal base", "give less light", "common-practice"),
)  # fmt: skip
BY_NAME = {fault.name: fault for fault in FAULTS}
