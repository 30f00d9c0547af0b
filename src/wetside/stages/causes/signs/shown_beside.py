"""What unexposed film says of the marks: a mark that it shows adds, one that ends where the picture ends does not.

Handbook film.md §3 (b). Stain, residue, fog and a scratch lie on the film wherever it is; what the developer did grows with
exposure and leaves unexposed film alone; light through the lens ends where the picture ends, light that leaks into a camera
may or may not. So it is weak evidence, and the user's own answer to the same question, who sees leader and gaps too, counts
in its place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from wetside.stages.causes.ranking.evidence import UNTOLD, Evidence
from wetside.stages.causes.ranking.experiments import (
    BARE_TURNS,
    BELLS,
    CARRIED_OVER,
    DIRT,
    DRYING,
    LEAK,
    LOW,
    SPLASH,
    SURGE,
    TOUCHED,
)
from wetside.stages.causes.ranking.rules import line_of
from wetside.stages.causes.signs.sure import chance_of

QUESTION = "in unexposed film"
#: Odds of a cause where most marks that reach unexposed film show there, and where most do not (set by hand, inference).
SHOWN: Mapping[str, float] = {
    BELLS: 0.25,
    BARE_TURNS: 0.25,
    SPLASH: 0.3,
    SURGE: 0.3,
    TOUCHED: 1.5,
    DRYING: 2.0,
}
ENDS: Mapping[str, float] = {BELLS: 1.4, BARE_TURNS: 1.4, SPLASH: 1.5, SURGE: 1.5, TOUCHED: 0.7, DRYING: 0.3, LEAK: 1.2, DIRT: 0.8}  # fmt: skip
#: The same by the user's word, who sees leader and gaps too (set by hand, inference). Light that leaks in by the film's edge
#: fogs what no picture was exposed on; light that leaks through the shutter ends with the picture.
SAID_SHOWN: Mapping[str, float] = {**SHOWN, LEAK: 0.8, LOW: 0.2, CARRIED_OVER: 2.0, TOUCHED: 2.0}
SAID_ENDS: Mapping[str, float] = {**ENDS, LEAK: 1.2, LOW: 1.4, CARRIED_OVER: 0.3}
#: Share of the marks that must agree; how many marks' chances must be there to say anything.
MOST, ENOUGH = 0.7, 0.5


def shown_in_unexposed(marks: Sequence[Mapping[str, Any]]) -> bool | None:
    """Whether unexposed film shows the marks that reach it, each by its chance; None where too few reach it, or they part."""
    shows = sum(chance_of(mark) for mark in marks if mark.get("in_rebate") is True)
    ends = sum(chance_of(mark) for mark in marks if mark.get("in_rebate") is False)
    if shows + ends < ENOUGH:
        return None
    return True if shows > MOST * (shows + ends) else False if ends > MOST * (shows + ends) else None


def factors_of_unexposed(cause: str, evidence: Evidence) -> list[tuple[float, str]]:
    """What unexposed film does to the odds of a cause, and in words: by the user's answer, else by what the marks show themselves."""
    answer = evidence.answers.get(QUESTION, UNTOLD[0])
    if answer not in UNTOLD:
        factor = (SAID_SHOWN if answer == "yes" else SAID_ENDS).get(cause, 1.0)
        say = f"answer: {QUESTION}: {answer}{line_of(evidence, f'answer {QUESTION}')}"
        return [(factor, say)] if factor != 1.0 else []
    shown = shown_in_unexposed(evidence.marks)
    factor = 1.0 if shown is None else (SHOWN if shown else ENDS).get(cause, 1.0)
    if factor == 1.0:
        return []
    own = sum(mark.get("in_rebate") is shown for mark in evidence.marks)
    what = f"{own} mark{'s' * (own != 1)}"
    say = f"unexposed film shows {what} too" if shown else f"unexposed film beside {what} is clean"
    return [(factor, f"{say} (inference)")]
