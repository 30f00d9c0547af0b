"""Which rung of the evidence ladder a folder of scans stands on, and why."""

from __future__ import annotations

from dataclasses import dataclass

from wetside.figures.finding import Finding
from wetside.figures.rung import LADDER


@dataclass(frozen=True, slots=True)
class Standing:
    """A rung's level, the reasons for it, and findings that follow from it."""

    level: int
    reasons: tuple[str, ...]
    findings: tuple[Finding, ...] = ()


def rung_of(
    linear: bool, rebate: bool, open_gate: bool, patches_known: bool = False, strips_known: bool = False
) -> Standing:
    """The highest rung whose every condition is met; a missing lower one is not made up for by a higher one."""
    conditions = (linear, rebate, open_gate, patches_known, strips_known)
    level = 0
    for met in conditions:
        if not met:
            break
        level += 1
    rung = LADDER[level]
    return Standing(level, (rung.there, f"may be said: {rung.may_say}", f"would add: {rung.next_adds}"))
