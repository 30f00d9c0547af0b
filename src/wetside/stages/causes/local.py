"""Causes of marks and casts: what each looks like on the negative, as factors on its odds.

Marks count by the chance that they are marks: what few and unsure ones look like moves the odds little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wetside.stages.causes.evidence import Evidence
from wetside.stages.causes.experiments import factors_of_tests
from wetside.stages.causes.rules import factors_of_company


@dataclass(frozen=True, slots=True)
class LocalCause:
    """A cause of marks or of a cast. `layers`: which densities change: "thin", "dense", "blue", "any"."""

    name: str
    where: str
    curable: str
    layers: str
    edge: str
    patterns: tuple[str, ...]
    needs: str
    decides: str
    source: str


LOCAL: tuple[LocalCause, ...] = (
    LocalCause("air bells in the developer", "wet side", "lost", "thin", "sharp", ("scattered", "cannot say"), "marks", "round, thin in all three layers; tap the tank", "14209"),
    LocalCause("turns touching in the developer", "wet side", "lost", "thin", "sharp", ("touching turns", "one angle"), "marks", "the patch equals the rebate in all three layers", "inference"),
    LocalCause("turns touching in bleach or fixer", "wet side", "tonight", "dense", "sharp", ("touching turns", "one angle"), "marks", "gone after bleaching and fixing again", "common-practice"),
    LocalCause("splash or slow pour", "wet side", "in correction", "dense", "soft", ("one angle",), "marks", "gathers at one angle of the reel", "common-practice"),
    LocalCause("surge at the perforations", "wet side", "in correction", "dense", "soft", ("perforation",), "marks", "repeats at the perforation's pitch", "common-practice"),
    LocalCause("drying marks or residue on the surface", "wet side", "tonight", "dense", "sharp", ("scattered", "cannot say"), "marks", "seen in reflected light; wipes or washes off", "inference"),
    LocalCause("light leak in the camera", "camera", "in correction", "dense", "soft", ("frame",), "marks", "stays with the frame; not in the leader", "common-practice"),
    LocalCause("dust or dirt in camera or scanner", "scanner", "in correction", "any", "sharp", ("frame",), "marks", "same place in every scan, also turned by 180°", "inference"),
    LocalCause("tank filled too low", "wet side", "lost", "thin", "soft", ("cannot say",), "with density", "one edge thin along the whole film, every turn alike", "common-practice"),
    LocalCause("stain carried over the film", "wet side", "in correction", "dense", "soft", ("cannot say",), "additive", "also in the rebate", "inference"),
    LocalCause("light under the negative", "scanner", "in correction", "any", "soft", ("cannot say",), "light", "in a scan of no film at all", "inference"),
)  # fmt: skip
PRIOR = 0.03
#: Share of a finder's chance that counts: its chances were fitted on frames of three marks each, and real frames hold fewer.
#: Judged, not measured: with it one mark alone is about as likely to be nothing.
COUNTS = 0.5


def chance_of(mark: Mapping[str, Any]) -> float:
    """The chance that a mark is one: its finder's, halved; 1 where the user saw or drew it, or no finder gave one."""
    if mark.get("verdict") in ("confirmed", "drawn"):
        return 1.0
    given = mark.get("chance")
    return COUNTS * float(given) if isinstance(given, int | float) and 0 <= given <= 1 else 1.0


def chance_of_any(marks: Sequence[Mapping[str, Any]]) -> float:
    """The chance that at least one of these marks is one; 0 without marks."""
    return float(1 - np.prod([1 - chance_of(mark) for mark in marks]))


def local_weights(evidence: Evidence) -> list[tuple[LocalCause, float, list[str], list[str]]]:
    """Weights of local causes, none where there is neither a mark nor a cast."""
    cast = evidence.cast.get("kind") if evidence.cast.get("found") else None
    found = []
    for cause in LOCAL:
        if cause.needs == "marks" and not evidence.marks:
            continue
        if cause.needs != "marks" and cast != cause.needs and not _asked(cause, evidence):
            continue
        weight, for_, against = PRIOR, list[str](), list[str]()
        if cause.needs == "marks":
            weight *= chance_of_any(evidence.marks)
        for factor, say in (
            *_mark_factors(cause, evidence),
            *_cast_factors(cause, evidence, cast),
            *_answers(cause, evidence),
            *factors_of_company(cause.name, evidence),
            *factors_of_tests(cause.name, evidence.tests),
        ):
            weight *= factor
            (for_ if factor > 1 else against).append(say)
        found.append((cause, weight, for_, against))
    return found


def _asked(cause: LocalCause, evidence: Evidence) -> bool:
    return (
        any(name in evidence.answers for name in ("same place in every roll", "stays with"))
        and cause.needs == "light"
    )


def _mark_factors(cause: LocalCause, evidence: Evidence) -> list[tuple[float, str]]:
    if cause.needs != "marks":
        return []
    found = []
    own = np.array([chance_of(m) for m in evidence.marks]) + 1e-6
    own /= own.sum()
    deltas = np.array([[float(m.get("delta", {}).get(c) or 0.0) for c in "rgb"] for m in evidence.marks])
    share = float(own @ (deltas.mean(axis=1) > 0))
    if cause.layers == "dense":
        found.append(
            (4.0, "the marks are denser than what is round them")
            if share > 0.7
            else (0.3, "the marks are not denser than what is round them")
            if share < 0.3
            else (1.0001, "marks of both signs")
        )
    if cause.layers == "thin":
        found.append(
            (4.0, "the marks are thinner in all layers")
            if share < 0.3
            else (0.15, "the marks are denser than what is round them")
            if share > 0.7
            else (0.9, "marks of both signs")
        )
    sharp = float(own @ np.array([m.get("edge") == "sharp" for m in evidence.marks]))
    agrees = sharp > 0.6 if cause.edge == "sharp" else sharp < 0.4
    found.append((2.0, f"edges are {cause.edge}") if agrees else (0.5, f"edges are not {cause.edge}"))
    if evidence.pattern in cause.patterns and evidence.pattern != "cannot say":
        found.append((12.0, f"they repeat: {evidence.pattern}"))
    elif evidence.pattern not in ("cannot say", *cause.patterns):
        found.append((0.1, f"they repeat: {evidence.pattern}"))
    sure = chance_of_any(evidence.marks)
    return [(factor**sure, say) for factor, say in found]


def _cast_factors(cause: LocalCause, evidence: Evidence, cast: str | None) -> list[tuple[float, str]]:
    found = []
    if cause.needs == "marks" or cast is None:
        return found
    if cast == cause.needs:
        found.append((20.0, f"the cast is of the kind: {cast}"))
    if cause.name == "tank filled too low" and evidence.log.get("tank_fill_short"):
        found.append((6.0, "the log says the tank was filled short"))
    return found


def _answers(cause: LocalCause, evidence: Evidence) -> list[tuple[float, str]]:
    """The five questions, each as odds; the choices are those of the first look."""
    table: Mapping[tuple[str, str], Mapping[str, float]] = {
        ("stays with", "the scanner"): {"scanner": 30.0, "camera": 0.1, "wet side": 0.05},
        ("stays with", "the film"): {"scanner": 0.05, "camera": 0.6, "wet side": 2.0},
        ("stays with", "the frame"): {"scanner": 0.3, "camera": 8.0, "wet side": 0.3},
        ("in unexposed film", "yes"): {"camera": 0.2, "wet side": 2.0},
        ("in unexposed film", "no"): {"camera": 2.0, "wet side": 0.7},
        ("same place in every roll", "yes"): {"scanner": 20.0, "wet side": 0.1, "camera": 0.7},
        ("same place in every roll", "no"): {"scanner": 0.1},
    }
    given: Mapping[str, Any] = evidence.answers
    return [
        (factors[cause.where], f"answer: {question}: {answer}")
        for (question, answer), factors in table.items()
        if given.get(question) == answer and cause.where in factors
    ]
