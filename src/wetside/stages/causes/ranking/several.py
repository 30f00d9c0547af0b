"""Two faults of the whole roll at once: what both explain that neither does alone.

Departures add; each fault keeps its own odds from the log and from tests. A second fault is rare beside a first, so two
are named only where one cannot explain the film.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from wetside.laws.sensitometry.faults import BY_NAME
from wetside.stages.causes.ranking.evidence import Evidence
from wetside.stages.causes.ranking.experiments import word_for
from wetside.stages.causes.ranking.strip import likelihood_of_both, unexplained

#: Chance that any one other fault is at work beside a first (inference: three of ten bad rolls have two, shared by thirteen).
SECOND = 0.3 / 13
#: Kinds of one fault, and opposites: the film cannot have both.
NEVER_BOTH = (
    {"developer hot or long", "developer cold or short"},
    {"developer too strong", "developer dilute or spent"},
    {"underexposed", "overexposed"},
)
NAMED = 0.12
#: χ² of nine departures, what chance alone leaves of them on average, beyond which two faults are tried.
FAR = 9.0


@dataclass(frozen=True, slots=True)
class Both:
    """Two causes at work together and the weight of that, of all that may be (0 to 1)."""

    causes: tuple[str, str]
    weight: float

    def as_json(self) -> dict[str, Any]:
        return {
            "causes": list(self.causes), "how": word_for(self.weight), "weight": round(self.weight, 4),
            "say": f"{self.causes[0]} and {self.causes[1]} together explain what neither does alone",
        }  # fmt: skip


def pairs(odds: Mapping[str, float], singles: float, evidence: Evidence) -> list[Both]:
    """Two faults at once, where no single one comes near the film; none as a rule. `singles`: the sum of single weights.

    `odds`: each fault's prior times what log and tests say.
    """
    if not evidence.measured or min(unexplained(BY_NAME[name], evidence) for name in odds) < FAR:
        return []
    found = [
        _pair(one, two, odds, evidence) for one, two in combinations(odds, 2) if {one, two} not in NEVER_BOTH
    ]
    total = singles + sum(pair.weight for pair in found)
    return found if max(pair.weight for pair in found) >= NAMED * total else []


def _pair(one: str, two: str, odds: Mapping[str, float], evidence: Evidence) -> Both:
    first, second = (one, two) if odds[one] >= odds[two] else (two, one)
    prior = odds[first] * SECOND * odds[second] / _prior(odds)
    return Both((first, second), prior * likelihood_of_both(BY_NAME[first], BY_NAME[second], evidence))


def _prior(odds: Mapping[str, float]) -> float:
    """What a fault counts of which log and tests say nothing: the middle of all."""
    return sorted(odds.values())[len(odds) // 2]


def at_work(singles: Mapping[str, float], both: Sequence[Both]) -> dict[str, float]:
    """Each cause's weight by itself and within the pairs that hold it."""
    found = dict(singles)
    for pair in both:
        for name in pair.causes:
            found[name] += pair.weight
    return found


def named(both: Sequence[Both], total: float) -> list[Both]:
    """Pairs worth naming, best first, as shares of all that may be."""
    shares = [Both(pair.causes, pair.weight / total) for pair in both]
    return sorted((pair for pair in shares if pair.weight >= NAMED), key=lambda pair: -pair.weight)
