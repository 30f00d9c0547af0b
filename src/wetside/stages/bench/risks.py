"""What home practice does otherwise, with what it may cost: the user's choice, stated, never forbidden."""

from __future__ import annotations

import math
from typing import Any

from wetside.laws.chemistry.processes import Process, Step
from wetside.laws.thermal.rate import rate

#: ±2 °F, what home practice accepts (common practice).
HOME_BAND = 2 / 1.8
#: d(HD − LD) / d ln t is at most about this [D], an inference; action limit of HD − LD, h-24-01 table 1-5.
CONTRAST_PER_LOG_TIME, ACTION = 0.5, 0.05

HABITS: tuple[tuple[str, str, str], ...] = (
    ("developer", "life of mixed developer", "Mixed developer is used for two to three weeks. It fades without a "
     "sign one can see; sources run from two weeks to six months. Put a test strip or an unimportant roll first."),
    ("stop", "plain water for the stop", "Water thins the developer, it does not end it: the film develops on, most "
     "where it pools, and carries developer into the bleach, where it stains at edges and perforations."),
    ("fixer", "one fixer for black-and-white too", "Its silver and iodide are not in this bath's record, so its "
     "remaining work cannot be told; time a leader's clearing: twice the fresh time means discard."),
)  # fmt: skip


def habits(roles: list[str]) -> list[dict[str, Any]]:
    """The habits that belong to these baths."""
    return [
        {"what": what, "say": say, "source": "common-practice", "seconds": None}
        for role, what, say in HABITS
        if role in roles or (role == "stop" and "developer" in roles)
    ]


def home_band(process: Process, developer: Step) -> dict[str, Any]:
    """±2 °F, costed: how many times the printed tolerance, how much time it is worth, how much contrast at most."""
    half = (developer.high_c - developer.low_c) / 2
    speed = rate(developer.aim_c + HOME_BAND, developer.aim_c, process.q10)
    seconds = developer.seconds * (speed - 1 / speed) / 2  # the mean of hot and cold
    contrast = CONTRAST_PER_LOG_TIME * math.log(speed)
    return {
        "what": "±2 °F at the developer",
        "say": f"±{HOME_BAND:.1f} °C is {HOME_BAND / half:.0f} times the printed ±{half:g} °C: worth about "
        f"±{seconds:.0f} s of {developer.seconds:.0f} s, and at most ±{contrast:.2f} D of contrast (an inference); "
        f"a laboratory acts at ±{ACTION:g} D.",
        "source": "common-practice",
        "seconds": round(seconds, 1),
    }
