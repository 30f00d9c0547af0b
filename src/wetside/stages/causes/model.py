"""What made this? Evidence in, ranked causes out, in words.

Theory. Each fault says the *signs* of what it does to the densities. How much it does is drawn from wide priors (an
overall size, a factor for each density, one for each layer), so the chance of what was measured under a fault is an
average over those draws; "nothing is wrong" is a hypothesis among the others, with no more than a run's own scatter.
The log, the look of the marks, the company a roll kept and the answers to questions each multiply the odds by a stated
factor. Causes that the evidence cannot part are named together. Weights order the list; words go outward.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from wetside.laws.sensitometry.faults import BY_NAME, FAULTS, Fault
from wetside.stages.causes.evidence import DENSITIES, Evidence
from wetside.stages.causes.experiments import word_for
from wetside.stages.causes.local import chance_of_any, local_weights
from wetside.stages.causes.rules import factors_of_the_log

CLEAN = "nothing is wrong"
WORDS = {"dmin": "D-min", "ld": "LD", "hd_ld": "HD−LD"}
DRAWS = 3000
SIZE, SIZE_SPREAD = 0.11, 0.75
#: A run's own scatter [D]: what all layers do alike (time, temperature), and what each does for itself.
ALIKE_SCATTER, LAYER_SCATTER = 0.014, 0.011
OWN_SCATTER = float(np.hypot(ALIKE_SCATTER, LAYER_SCATTER))
#: How far the layers part, as a factor e^±; exposure slides all of them along their curves, silver is neutral (TG2044-1).
LAYERS_PART = 0.4
OPEN = 0.10
#: With marks to explain and no density measured, a fault of the whole roll is seldom what is asked about.
UNMEASURED_WITH_MARKS = 0.25
#: What leaves marks or a cast unexplained; a strip's faults and a clean strip alike, for marks say nothing of the strip.
UNEXPLAINED = 0.04
LAYERS_ALIKE = {"underexposed": 0.2, "overexposed": 0.2, "weak bleach: retained silver": 0.2}
PRIOR_CLEAN = 0.25


@dataclass(frozen=True)
class Ranked:
    """One cause with its weight (they sum to 1), and what speaks for and against it."""

    name: str
    weight: float
    for_: tuple[str, ...]
    against: tuple[str, ...]
    curable: str

    @property
    def how(self) -> str:
        """The word for its weight; until shown to be calibrated only words go outward."""
        return word_for(self.weight)

    def as_json(self) -> dict[str, Any]:
        return {
            "cause": self.name, "how": self.how, "weight": round(self.weight, 4), "for": list(self.for_),
            "against": list(self.against), "curable": self.curable, "change": change_for(self.name),
        }  # fmt: skip


def ranked_causes(evidence: Evidence) -> list[Ranked]:
    """All causes, best first. Without a figure, a mark, a cast or a log the list is empty: nothing can be said."""
    if not (
        evidence.measured
        or evidence.log
        or evidence.marks
        or evidence.cast
        or evidence.company
        or evidence.answers
    ):
        return []
    whole, strip = _whole_roll(evidence)
    local = [
        (cause, weight * strip, for_, against) for cause, weight, for_, against in local_weights(evidence)
    ]
    total = sum(w for _, w, _, _ in whole) + sum(w for _, w, _, _ in local)
    found = [
        Ranked(
            name,
            weight / total,
            tuple(for_),
            tuple(against),
            BY_NAME[name].curable if name in BY_NAME else "cannot say",
        )
        for name, weight, for_, against in whole
    ]
    found += [Ranked(cause.name, w / total, tuple(f), tuple(a), cause.curable) for cause, w, f, a in local]
    return sorted(found, key=lambda cause: -cause.weight)


def _whole_roll(evidence: Evidence) -> tuple[list[tuple[str, float, list[str], list[str]]], float]:
    """Weights of the faults of a whole roll, and the chance of the measured strip whatever it was that made it.

    A mark or a cast says nothing of the strip: its causes go with whichever fault there is, so their weights carry that chance.
    """
    found: list[tuple[str, float, list[str], list[str]]] = []
    prior = (1 - PRIOR_CLEAN) / len(FAULTS)
    own, strip = prior, 0.0
    marked = chance_of_any(evidence.marks)
    own *= (UNEXPLAINED if evidence.measured else UNMEASURED_WITH_MARKS) ** marked
    for fault in FAULTS:
        chance = likelihood(fault, evidence)
        weight, strip = own * chance, strip + prior * chance
        for_, against = signs_in_words(fault, evidence)
        for factor, say in factors_of_the_log(fault, evidence):
            weight *= factor
            (for_ if factor > 1 else against).append(say)
        found.append((fault.name, weight, for_, against))
    clean = PRIOR_CLEAN * likelihood(None, evidence)
    strip += clean
    clean *= UNEXPLAINED ** (1.0 if evidence.cast.get("found") else marked)
    say = (
        "every departure lies within a run's own scatter"
        if _within(evidence)
        else "departures are larger than a run's own scatter"
    )
    found.append((CLEAN, clean, [say] if _within(evidence) else [], [] if _within(evidence) else [say]))
    return found, strip


def _within(evidence: Evidence) -> bool:
    limit = 2.5 * float(np.hypot(OWN_SCATTER, evidence.spread))
    return all(v is None or abs(v) < limit for values in evidence.departures.values() for v in values)


def likelihood(fault: Fault | None, evidence: Evidence) -> float:
    """Chance density of the measured departures under a fault (None: clean), averaged over its wide priors."""
    if not evidence.measured:
        return 1.0
    seen, known = _vector(evidence)
    away = (seen - (np.zeros((1, 9)) if fault is None else drawn_departures(fault)))[:, known]
    narrowed = np.linalg.inv(scatter_of_a_run(evidence.spread)[np.ix_(known, known)])
    exponent = -0.5 * np.einsum("di,ij,dj->d", away, narrowed, away)
    return float(np.exp(exponent).mean() + 1e-12)


def scatter_of_a_run(spread: float) -> np.ndarray:
    """Covariance (9, 9) [D²] of the departures of runs that nothing ails: layers move alike, and each a little by itself."""
    alike = np.kron(np.eye(3), np.full((3, 3), ALIKE_SCATTER**2))
    return alike + np.eye(9) * (LAYER_SCATTER**2 + spread**2)


@cache
def drawn_departures(fault: Fault, draws: int = DRAWS) -> np.ndarray:
    """Departures (draws, 9) [D]: D-min, LD, HD−LD by r, g, b, of one fault over its priors of size."""
    rng = np.random.default_rng(abs(hash_of(fault.name)))
    signs = np.array([fault.dmin, fault.ld, fault.hd_ld])
    size = SIZE * np.exp(SIZE_SPREAD * rng.standard_normal((draws, 1, 1)))
    density = np.exp(0.55 * rng.standard_normal((draws, 3, 1)))
    part = LAYERS_ALIKE.get(fault.name, LAYERS_PART)
    layer = np.exp(part * rng.standard_normal((draws, 1, 3)))
    own = np.exp(0.2 * rng.standard_normal((draws, 3, 3)))
    return (signs * size * density * layer * own).reshape(draws, 9)


def hash_of(name: str) -> int:
    """A number from a name that is the same on every run."""
    return sum((i + 1) * ord(letter) for i, letter in enumerate(name))


def _vector(evidence: Evidence) -> tuple[np.ndarray, np.ndarray]:
    values = [v for name in DENSITIES for v in evidence.departures.get(name, (None, None, None))]
    return np.array([0.0 if v is None else v for v in values]), np.array([v is not None for v in values])


def signs_in_words(fault: Fault, evidence: Evidence) -> tuple[list[str], list[str]]:
    """Which measured signs agree with a fault's, and which do not; one sentence a density and a verdict."""
    for_, against = [], []
    limit = limit_of(evidence)
    for name, signs in zip(DENSITIES, (fault.dmin, fault.ld, fault.hd_ld)):
        agree, oppose, still = [], [], []
        for channel, expected, value in zip("rgb", signs, evidence.departures.get(name, (None,) * 3)):
            if value is None:
                continue
            seen = f"{channel} {value:+.2f}".replace("-", "−")
            if abs(expected) >= 0.5 and abs(value) > limit:
                (agree if np.sign(value) == np.sign(expected) else oppose).append(seen)
            elif abs(expected) < 0.5 and abs(value) > 2 * limit:
                still.append(seen)
        word = WORDS[name]
        if agree:
            for_.append(f"{word} {', '.join(agree)} ({fault.source})")
        if oppose:
            against.append(f"{word} {', '.join(oppose)}, where it moves the other way ({fault.source})")
        if still:
            against.append(f"{word} {', '.join(still)}, where it changes little ({fault.source})")
    return for_, against


def inseparable(causes: list[Ranked], evidence: Evidence) -> list[list[str]]:
    """Groups of causes that this evidence cannot part: within a factor of four of one another and of like signature."""
    groups: list[list[str]] = []
    top = [c for c in causes if c.weight > 0.04 and c.name != CLEAN]
    for i, first in enumerate(top):
        if first.weight < OPEN:
            break
        group = [first.name]
        for other in top[i + 1 :]:
            if first.weight < 4 * other.weight and _alike(first.name, other.name, evidence):
                group.append(other.name)
        if len(group) > 1 and not any(set(group) <= set(known) for known in groups):
            groups.append(group)
    return groups


def _alike(a: str, b: str, evidence: Evidence) -> bool:
    """Both of marks or of a cast; or both of the whole roll, with likelihoods within a factor of six on what was measured."""
    if a not in BY_NAME or b not in BY_NAME:
        return a not in BY_NAME and b not in BY_NAME
    if not evidence.measured:
        return True
    la, lb = likelihood(BY_NAME[a], evidence), likelihood(BY_NAME[b], evidence)
    return max(la, lb) < 6 * min(la, lb)


def change_for(name: str) -> str:
    """What to change in the next run if this was the cause; empty where the table names nothing."""
    return BY_NAME[name].change if name in BY_NAME else ""


def signs_of(name: str) -> tuple[float, ...] | None:
    """What a fault does to D-min, LD and HD−LD by r, g, b, nine signs; None for a cause that is not of the whole roll."""
    fault = BY_NAME.get(name)
    return None if fault is None else (*fault.dmin, *fault.ld, *fault.hd_ld)


def limit_of(evidence: Evidence) -> float:
    """Two standard deviations of a run's own scatter and of the reading [D]: a smaller departure says nothing."""
    return 2 * float(np.hypot(OWN_SCATTER, evidence.spread))


def as_json(causes: list[Ranked], evidence: Evidence, test: Mapping[str, Any]) -> dict[str, Any]:
    """The `wetside.causes/1` object."""
    return {
        "schema": "wetside.causes/1",
        "causes": [cause.as_json() for cause in causes],
        "inseparable": inseparable(causes, evidence),
        "next_test": dict(test),
    }
