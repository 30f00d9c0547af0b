"""The cheapest next test: expected information per minute over the causes that are still open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wetside.stages.causes.model import CLEAN, Ranked


@dataclass(frozen=True, slots=True)
class Test:
    """A test, its minutes, and the causes under which it comes out one way (each with the chance that it does)."""

    what: str
    minutes: float
    tells: str
    yes: dict[str, float]
    otherwise: float


SILVER = {
    "weak bleach: retained silver": 0.95,
    "weak bleach: leuco-cyan": 0.9,
    "turns touching in bleach or fixer": 0.9,
}
HALIDE = {"weak fixer: retained halide": 0.95, "turns touching in bleach or fixer": 0.6}
TESTS: tuple[Test, ...] = (
    Test("bleach and fix one frame again, and scan it again", 25, "silver or leuco-cyan goes; a developer fault stays", {**SILVER, **HALIDE}, 0.05),
    Test("fix one frame again, and scan it again", 15, "retained halide goes; everything else stays", HALIDE, 0.05),
    Test("measure the unexposed leader against a good roll's", 5, "base up: age, fog or stain; base normal: exposure or development",
         {"old stock": 0.9, "developer oxidised": 0.8, "bleach or fixer in the developer": 0.9, "weak fixer: retained halide": 0.9,
          "developer carried into the bleach": 0.85, "developer too strong": 0.6, "developer hot or long": 0.35, "stain carried over the film": 0.8}, 0.1),
    Test("scan the light without film, same exposure", 3, "a gradient there is the light's, not the film's", {"light under the negative": 0.97}, 0.05),
    Test("turn one frame by 180° in the holder and scan it again", 4, "what stays in place is the scanner's",
         {"light under the negative": 0.95, "dust or dirt in camera or scanner": 0.8}, 0.04),
    Test("put the dry, uncut film back on its reel and look where the marks lie", 10, "one angle, touching turns, or nothing",
         {"turns touching in the developer": 0.85, "turns touching in bleach or fixer": 0.85, "splash or slow pour": 0.8}, 0.1),
    Test("look at the marks in reflected light, both sides", 2, "residue and scratches show on the surface; dye does not",
         {"drying marks or residue on the surface": 0.9}, 0.08),
    Test("compare the thermometer with a second one at 41 °C", 10, "a wrong thermometer explains hot or cold",
         {"developer cold or short": 0.5, "developer hot or long": 0.5}, 0.1),
    Test("run a home control strip beside a roll from the same bath", 40, "the process's own part, without the pictures",
         {"developer cold or short": 0.9, "developer hot or long": 0.9, "low agitation": 0.8, "developer dilute or spent": 0.9,
          "developer too strong": 0.9, "underexposed": 0.05, "overexposed": 0.05, "old stock": 0.1}, 0.2),
    Test("develop a split roll: together, cut after the stop, halves into two fixers or bleaches", 60, "a bath's part against everything else",
         {**SILVER, **HALIDE}, 0.1),
)  # fmt: skip


def information(test: Test, causes: Sequence[Ranked]) -> float:
    """Expected information [bit] of a yes-or-no test over the causes' weights."""
    weights = np.array([cause.weight for cause in causes])
    chance = np.array(
        [test.yes.get(cause.name, 0.05 if cause.name == CLEAN else test.otherwise) for cause in causes]
    )
    yes = float(weights @ chance)
    return _entropy(np.array([yes, 1 - yes])) - float(
        weights @ [_entropy(np.array([p, 1 - p])) for p in chance]
    )


def _entropy(p: np.ndarray) -> float:
    p = p[p > 0]
    return float(-(p * np.log2(p)).sum())


def next_test(causes: Sequence[Ranked]) -> dict[str, Any]:
    """The test with the most information a minute; without causes, the one that opens the most."""
    if not causes:
        return {"what": "scan with the rebate in view, linear 16-bit, and the light once without film", "minutes": 10,
                "tells": "without it no density can be read"}  # fmt: skip
    if causes[0].name == CLEAN and causes[0].weight > 0.8:
        return {
            "what": "none needed: expose and process the next roll alike",
            "minutes": 0,
            "tells": "whether it stays so",
        }
    best = max(TESTS, key=lambda test: information(test, causes) / (test.minutes + 2))
    return {"what": best.what, "minutes": best.minutes, "tells": best.tells}
