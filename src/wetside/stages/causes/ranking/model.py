"""What made this? Evidence in, ranked causes out, in words.

Theory. Each fault says the *signs* of what it does to the densities. How much it does is drawn from wide priors (an
overall size, a factor for each density, one for each layer), so the chance of what was measured under a fault is an
average over those draws; "nothing is wrong" is a hypothesis among the others, with no more than a run's own scatter.
The log, the look of the marks, the company a roll kept and the answers to questions each multiply the odds by a stated
factor. Causes that the evidence cannot part are named together. Weights order the list; words go outward.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wetside.laws.sensitometry.faults import BY_NAME, FAULTS, Fault
from wetside.stages.causes.ranking.evidence import DENSITIES, Evidence
from wetside.stages.causes.ranking.experiments import word_for
from wetside.stages.causes.ranking.local import (
    LIGHT_KIND,
    LOCAL_BY_NAME,
    local_weights,
    need_of_cast,
    sureness,
)
from wetside.stages.causes.ranking.rules import factors_of_the_log
from wetside.stages.causes.ranking.several import Both, at_work, named, pairs
from wetside.stages.causes.ranking.strip import likelihood, limit_of

CLEAN = "nothing is wrong"
WORDS = {"dmin": "D-min", "ld": "LD", "hd_ld": "HD−LD"}
OPEN = 0.10
#: With marks to explain and no density measured, a fault of the whole roll is seldom what is asked about.
UNMEASURED_WITH_MARKS = 0.25
#: What leaves marks or a cast unexplained; a strip's faults and a clean strip alike, for marks say nothing of the strip.
UNEXPLAINED = 0.04
PRIOR_CLEAN = 0.25


@dataclass(frozen=True)
class Ranked:
    """One cause: the chance that it is at work, its share of all chances (they sum to 1), what speaks for and against it.

    Several may be at work at once, a fault of the strip and one of the marks, or two of the strip: chances need not sum to 1.
    An uneven light is nothing wrong with the roll: it stands before a clean roll and leaves its chance alone.
    """

    name: str
    weight: float
    for_: tuple[str, ...]
    against: tuple[str, ...]
    curable: str
    chance: float
    by: tuple[str, ...] = ()

    @property
    def how(self) -> str:
        """The word for its chance; until shown to be calibrated only words go outward."""
        return word_for(self.chance)

    def as_json(self) -> dict[str, Any]:
        return {
            "cause": self.name, "how": self.how, "weight": round(self.weight, 4), "for": list(self.for_),
            "against": list(self.against), "curable": self.curable, "change": change_for(self.name),
            "chance": round(self.chance, 4), "by": list(self.by),
        }  # fmt: skip


@dataclass
class Weighed:
    """A fault of the whole roll, or a clean one: its odds (prior, log, tests), its weight, and the words for and against."""

    name: str
    odds: float
    weight: float
    for_: list[str]
    against: list[str]
    by: list[str]


def ranked_causes(evidence: Evidence) -> list[Ranked]:
    """All causes, best first. Without a figure, a mark, a cast, a log or an answer the list is empty: nothing can be said."""
    return _ranking(evidence)[0] if evidence.kinds else []


def together(evidence: Evidence) -> list[Both]:
    """Two faults of the whole roll that only together explain the film, best first; as a rule none."""
    return _ranking(evidence)[1] if evidence.measured else []


def _ranking(evidence: Evidence) -> tuple[list[Ranked], list[Both]]:
    """A mark or a cast says nothing of the strip, nor the strip of it: each has explanations of its own, clean among them."""
    whole = _whole_roll(evidence)
    singles = sum(one.weight for one in whole)
    both = pairs({one.name: one.odds for one in whole if one.name != CLEAN}, singles, evidence)
    weights = at_work({one.name: one.weight for one in whole}, both)
    of_strip = singles + sum(pair.weight for pair in both)
    local, blank = local_weights(evidence), _unexplained(evidence)
    of_marks = blank + sum(weight for _, weight, _, _ in local)
    of_light = sum(weight for cause, weight, _, _ in local if cause.needs == LIGHT_KIND)
    asked = _worth_asking(evidence)
    chances = {n: w / of_strip * asked for n, w in weights.items()}
    chances |= {cause.name: weight / of_marks for cause, weight, _, _ in local}
    held = weights[CLEAN] / of_strip
    order = chances | {CLEAN: held * _left_alone(blank, of_marks)}
    chances[CLEAN] = held * _left_alone(blank + of_light, of_marks)
    total = sum(order.values())

    def ranked(name: str, for_: list[str], against: list[str], curable: str, by: list[str]) -> Ranked:
        chance = chances[name]
        return Ranked(name, order[name] / total, tuple(for_), tuple(against), curable, chance, tuple(by))

    seen = ["cast" if evidence.cast.get("found") else "marks"]
    found = [ranked(one.name, one.for_, one.against, curable_of(one.name), one.by) for one in whole]
    found += [ranked(cause.name, f, a, cause.curable, seen) for cause, _, f, a in local]
    return sorted(found, key=lambda cause: -cause.weight), named(both, of_strip)


def _left_alone(innocent: float, of_marks: float) -> float:
    """How far marks and casts leave a roll that held as clean as it was: wholly where they are likelier innocent than not."""
    return 1.0 if 2 * innocent > of_marks else innocent / of_marks


def curable_of(name: str) -> str:
    """Whether a fault of the whole roll can be cured, and how far."""
    return BY_NAME[name].curable if name in BY_NAME else "cannot say"


def _worth_asking(evidence: Evidence) -> float:
    """How far a fault of the whole roll is in question: with marks to explain and nothing measured, seldom."""
    return 1.0 if evidence.measured else UNMEASURED_WITH_MARKS ** sureness(evidence)


def _unexplained(evidence: Evidence) -> float:
    """Chance, against causes of marks and casts, that what was seen needs none: all of it where nothing was seen."""
    return float(UNEXPLAINED ** max(need_of_cast(evidence.cast), sureness(evidence)))


def _whole_roll(evidence: Evidence) -> list[Weighed]:
    """Faults of a whole roll and a clean one, with what the strip, the log and tests say of each."""
    found = []
    prior = (1 - PRIOR_CLEAN) / len(FAULTS)
    for fault in FAULTS:
        chance = likelihood(fault, evidence)
        odds = prior
        for_, against = signs_in_words(fault, evidence)
        by = ["densities"] if for_ else []
        said_of_company = {say for _, say in evidence.shared.values()}
        for factor, say in factors_of_the_log(fault, evidence):
            odds *= factor
            (for_ if factor > 1 else against).append(say)
            if factor > 1:
                by.append(
                    "test" if say.startswith("test:") else "company" if say in said_of_company else "log"
                )
        found.append(Weighed(fault.name, odds, odds * chance, for_, against, sorted(set(by))))
    clean = PRIOR_CLEAN * likelihood(None, evidence)
    for_, against = _clean_in_words(evidence)
    found.append(Weighed(CLEAN, PRIOR_CLEAN, clean, for_, against, ["densities"] if for_ else []))
    return found


def _clean_in_words(evidence: Evidence) -> tuple[list[str], list[str]]:
    if not evidence.measured:
        return [], ["no density was measured that could show it"]
    if _within(evidence):
        return ["every departure lies within a run's own scatter"], []
    return [], ["departures are larger than a run's own scatter"]


def _within(evidence: Evidence) -> bool:
    limit = 1.25 * limit_of(evidence)
    return all(v is None or abs(v) < limit for values in evidence.departures.values() for v in values)


def signs_in_words(fault: Fault, evidence: Evidence) -> tuple[list[str], list[str]]:
    """Which measured signs agree with a fault's, and which do not; one sentence a density and a verdict."""
    for_, against = [], []
    limit = limit_of(evidence)
    for name, signs in zip(DENSITIES, (fault.dmin, fault.ld, fault.hd_ld)):
        agree, oppose, still = list[str](), list[str](), list[str]()
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
    """What to change in the next run if this was the cause; empty where the tables name nothing."""
    known = BY_NAME.get(name) or LOCAL_BY_NAME.get(name)
    return known.change if known else ""


def one_change(causes: Sequence[Ranked]) -> dict[str, str]:
    """The one thing to do otherwise in the next run, and why that one; nothing where nothing is wrong or nothing is known."""
    first = causes[0] if causes else None
    if first is None or first.name == CLEAN or first.how == "unlikely":
        return {"change": "", "why": "nothing speaks for a change"}
    why = f"against {first.name}, the likeliest"
    rivals = [
        c.name for c in causes[1:] if c.how != "unlikely" and change_for(c.name) != change_for(first.name)
    ]
    if first.how != "likely" and rivals:
        why = f"{why}; nothing else with it, or the next roll will not tell which it was"
    return {"change": change_for(first.name), "why": why}


def signs_of(name: str) -> tuple[float, ...] | None:
    """What a fault does to D-min, LD and HD−LD by r, g, b, nine signs; None for a cause that is not of the whole roll."""
    fault = BY_NAME.get(name)
    return None if fault is None else (*fault.dmin, *fault.ld, *fault.hd_ld)


def as_json(causes: list[Ranked], evidence: Evidence, test: Mapping[str, Any]) -> dict[str, Any]:
    """The `wetside.causes/1` object."""
    return {
        "schema": "wetside.causes/1",
        "causes": [cause.as_json() for cause in causes],
        "inseparable": inseparable(causes, evidence),
        "together": [pair.as_json() for pair in together(evidence)],
        "next_test": dict(test), "next_run": one_change(causes),
    }  # fmt: skip
