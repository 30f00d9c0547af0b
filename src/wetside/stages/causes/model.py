"""What made this? Evidence in, ranked causes out, in words.

Theory. Each fault says the *signs* of what it does to the densities. How much it does is drawn from wide priors (an
overall size, a factor for each density, one for each layer), so the chance of what was measured under a fault is an
average over those draws; "nothing is wrong" is a hypothesis among the others, with no more than a run's own scatter.
The log, the look of the marks, the company a roll kept and the answers to questions each multiply the odds by a stated
factor. Causes that the evidence cannot part are named together. Weights order the list; words go outward.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from wetside.laws.sensitometry.faults import BY_NAME, FAULTS, Fault
from wetside.stages.causes.evidence import DENSITIES, Evidence
from wetside.stages.causes.local import LOCAL, LocalCause, local_weights

CLEAN = "nothing is wrong"
DRAWS = 3000
SIZE, SIZE_SPREAD = 0.11, 0.75
OWN_SCATTER = 0.018
PRIOR_CLEAN = 0.35


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
        return "likely" if self.weight >= 0.5 else "possible" if self.weight >= 0.12 else "unlikely"

    def as_json(self) -> dict[str, Any]:
        return {
            "cause": self.name, "how": self.how, "weight": round(self.weight, 4), "for": list(self.for_),
            "against": list(self.against), "curable": self.curable,
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
    whole = _whole_roll(evidence)
    local = local_weights(evidence)
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


def _whole_roll(evidence: Evidence) -> list[tuple[str, float, list[str], list[str]]]:
    found: list[tuple[str, float, list[str], list[str]]] = []
    own = (1 - PRIOR_CLEAN) / len(FAULTS)
    for fault in FAULTS:
        weight = own * likelihood(fault, evidence)
        for_, against = signs_in_words(fault, evidence)
        for factor, say in _log_factors(fault, evidence):
            weight *= factor
            (for_ if factor > 1 else against).append(say)
        found.append((fault.name, weight, for_, against))
    clean = PRIOR_CLEAN * likelihood(None, evidence)
    if evidence.marks or evidence.cast.get("found"):
        clean *= 0.15
    say = (
        "every departure lies within a run's own scatter"
        if _within(evidence)
        else "departures are larger than a run's own scatter"
    )
    found.append((CLEAN, clean, [say] if _within(evidence) else [], [] if _within(evidence) else [say]))
    return found


def _within(evidence: Evidence) -> bool:
    limit = 2.5 * float(np.hypot(OWN_SCATTER, evidence.spread))
    return all(v is None or abs(v) < limit for values in evidence.departures.values() for v in values)


def likelihood(fault: Fault | None, evidence: Evidence) -> float:
    """Chance density of the measured departures under a fault (None: clean), averaged over its wide priors."""
    if not evidence.measured:
        return 1.0
    seen, known = _vector(evidence)
    sd = float(np.hypot(OWN_SCATTER, evidence.spread))
    means = np.zeros((1, 9)) if fault is None else drawn_departures(fault)
    exponent = -0.5 * (((seen - means) / sd) ** 2)[:, known].sum(axis=1)
    return float(np.exp(exponent).mean() + 1e-12)


def drawn_departures(fault: Fault, draws: int = DRAWS) -> np.ndarray:
    """Departures (draws, 9) [D]: D-min, LD, HD−LD by r, g, b, of one fault over its priors of size."""
    rng = np.random.default_rng(abs(hash_of(fault.name)))
    signs = np.array([fault.dmin, fault.ld, fault.hd_ld])
    size = SIZE * np.exp(SIZE_SPREAD * rng.standard_normal((draws, 1, 1)))
    density = np.exp(0.4 * rng.standard_normal((draws, 3, 1)))
    layer = np.exp(0.4 * rng.standard_normal((draws, 1, 3)))
    own = np.exp(0.2 * rng.standard_normal((draws, 3, 3)))
    return (signs * size * density * layer * own).reshape(draws, 9)


def hash_of(name: str) -> int:
    """A number from a name that is the same on every run."""
    return sum((i + 1) * ord(letter) for i, letter in enumerate(name))


def _vector(evidence: Evidence) -> tuple[np.ndarray, np.ndarray]:
    values = [v for name in DENSITIES for v in evidence.departures.get(name, (None, None, None))]
    return np.array([0.0 if v is None else v for v in values]), np.array([v is not None for v in values])


def signs_in_words(fault: Fault, evidence: Evidence) -> tuple[list[str], list[str]]:
    """Which measured signs agree with a fault's, and which do not."""
    for_, against = [], []
    limit = 2 * float(np.hypot(OWN_SCATTER, evidence.spread))
    for name, signs in zip(DENSITIES, (fault.dmin, fault.ld, fault.hd_ld)):
        for channel, expected, value in zip("rgb", signs, evidence.departures.get(name, (None,) * 3)):
            if value is None:
                continue
            place = f"{name.replace('hd_ld', 'HD−LD').replace('dmin', 'D-min').replace('ld', 'LD')} {channel} {value:+.2f}"
            if abs(expected) >= 0.5 and abs(value) > limit:
                (for_ if np.sign(value) == np.sign(expected) else against).append(f"{place} ({fault.source})")
            elif abs(expected) < 0.5 and abs(value) > 2 * limit:
                against.append(f"{place}, where it changes little ({fault.source})")
    return for_, against


Rule = tuple[str, str, Callable[[Any], bool], float, str]
RULES: tuple[Rule, ...] = (
    ("developer cold or short", "developer_temperature_off_c", lambda v: v < -0.3, 8.0, "the log has the developer {v:+.1f} °C off"),
    ("developer hot or long", "developer_temperature_off_c", lambda v: v > 0.3, 8.0, "the log has the developer {v:+.1f} °C off"),
    ("developer cold or short", "developer_temperature_off_c", lambda v: v > 0.2, 0.3, "the log has the developer {v:+.1f} °C off"),
    ("developer hot or long", "developer_temperature_off_c", lambda v: v < -0.2, 0.3, "the log has the developer {v:+.1f} °C off"),
    ("developer cold or short", "developer_time_off_s", lambda v: v < -8, 6.0, "developed {v:+.0f} s off the aim"),
    ("developer hot or long", "developer_time_off_s", lambda v: v > 8, 6.0, "developed {v:+.0f} s off the aim"),
    ("developer hot or long", "pushed", bool, 4.0, "the run was a push"),
    ("developer hot or long", "late_drain", bool, 5.0, "the developer was drained late"),
    ("low agitation", "missed_agitation", bool, 8.0, "agitation was missed"),
    ("developer dilute or spent", "developer_area_m2_per_litre", lambda v: v > 0.25, 4.0, "{v:.2f} m² a litre went through the developer before"),
    ("developer oxidised", "developer_age_days", lambda v: v > 18, 6.0, "the developer was {v:.0f} days old"),
    ("weak bleach: retained silver", "bleach_area_m2_per_litre", lambda v: v > 0.25, 6.0, "{v:.2f} m² a litre went through the bleach before"),
    ("weak bleach: leuco-cyan", "bleach_area_m2_per_litre", lambda v: v > 0.25, 3.0, "{v:.2f} m² a litre went through the bleach before"),
    ("weak fixer: retained halide", "fixer_area_m2_per_litre", lambda v: v > 0.25, 6.0, "{v:.2f} m² a litre went through the fixer before"),
    ("developer carried into the bleach", "stop_bath_used", lambda v: v is False, 6.0, "no stop bath in the log"),
    ("developer carried into the bleach", "stop_bath_used", lambda v: v is True, 0.3, "a stop bath was used"),
    ("old stock", "film_age_years", lambda v: v > 5, 6.0, "the film is {v:.0f} years old"),
    ("old stock", "film_age_years", lambda v: v <= 2, 0.2, "the film is {v:.0f} years old"),
)  # fmt: skip
TEST_RULES: dict[tuple[str, str], dict[str, float]] = {
    ("re-bleach one frame", "changed"): {"weak bleach: retained silver": 30.0, "weak bleach: leuco-cyan": 30.0},
    ("re-bleach one frame", "same"): {"weak bleach: retained silver": 0.03, "weak bleach: leuco-cyan": 0.05, "weak fixer: retained halide": 0.3},
    ("re-fix one frame", "changed"): {"weak fixer: retained halide": 30.0},
    ("re-fix one frame", "same"): {"weak fixer: retained halide": 0.03},
    ("measure the leader", "D-min up"): {"old stock": 3.0, "developer carried into the bleach": 2.0, "underexposed": 0.2, "overexposed": 0.2},
    ("measure the leader", "D-min normal"): {"old stock": 0.15, "developer oxidised": 0.3, "weak fixer: retained halide": 0.2},
}  # fmt: skip


def _log_factors(fault: Fault, evidence: Evidence) -> list[tuple[float, str]]:
    found = [
        (factor, say.format(v=evidence.log[key]) + _line(evidence, key))
        for name, key, holds, factor, say in RULES
        if name == fault.name and evidence.log.get(key) is not None and holds(evidence.log[key])
    ]
    for (test, outcome), factors in TEST_RULES.items():
        if evidence.tests.get(test) == outcome and fault.name in factors:
            found.append((factors[fault.name], f"test: {test}: {outcome}"))
    return found


def _line(evidence: Evidence, key: str) -> str:
    return f" (line {evidence.lines[key]})" if key in evidence.lines else ""


def inseparable(causes: list[Ranked], evidence: Evidence) -> list[list[str]]:
    """Groups of causes that this evidence cannot part: within a factor of four of one another and of like signature."""
    groups: list[list[str]] = []
    top = [c for c in causes if c.weight > 0.04 and c.name in BY_NAME]
    for i, first in enumerate(top):
        group = [first.name]
        for other in top[i + 1 :]:
            close = first.weight < 4 * other.weight
            if close and _alike(BY_NAME[first.name], BY_NAME[other.name], evidence):
                group.append(other.name)
        if len(group) > 1 and not any(set(group) <= set(known) for known in groups):
            groups.append(group)
    return groups


def _alike(a: Fault, b: Fault, evidence: Evidence) -> bool:
    """Likelihoods within a factor of six on what was measured."""
    if not evidence.measured:
        return True
    la, lb = likelihood(a, evidence), likelihood(b, evidence)
    return max(la, lb) < 6 * min(la, lb)


def curable_words(causes: list[Ranked]) -> str:
    """Whether the likeliest cause can be cured."""
    return causes[0].curable if causes else "cannot say"


def of_local(name: str) -> LocalCause | None:
    """The local cause of a name, if it is one."""
    return next((cause for cause in LOCAL if cause.name == name), None)


def as_json(causes: list[Ranked], evidence: Evidence, test: Mapping[str, Any]) -> dict[str, Any]:
    """The `wetside.causes/1` object."""
    return {
        "schema": "wetside.causes/1",
        "causes": [cause.as_json() for cause in causes],
        "inseparable": inseparable(causes, evidence),
        "next_test": dict(test),
    }
