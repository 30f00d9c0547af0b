"""Causes of marks and casts: what each looks like on the negative, as factors on its odds.

Marks count by the chance that they are marks: what few and unsure ones look like moves the odds little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wetside.stages.causes.ranking.evidence import Evidence
from wetside.stages.causes.ranking.experiments import (
    BARE_LIGHT,
    BARE_TURNS,
    BELLS,
    CARRIED_OVER,
    DIRT,
    DRYING,
    LEAK,
    LIGHT,
    LOW,
    SPLASH,
    SURGE,
    TOUCHED,
    TURNED,
    factors_of_tests,
)
from wetside.stages.causes.ranking.rules import factors_of_company, line_of
from wetside.stages.causes.signs.at_edge import factors_of_edges
from wetside.stages.causes.signs.same_place import at_one_place
from wetside.stages.causes.signs.shown_beside import factors_of_unexposed
from wetside.stages.causes.signs.sure import chance_of, chance_of_any


@dataclass(frozen=True, slots=True)
class LocalCause:
    """A cause of marks or of a cast. `layers`: which densities change: "thin", "dense", "blue", "any".

    `change`: what to do otherwise in the next run (common practice).
    """

    name: str
    where: str
    curable: str
    layers: str
    edge: str
    patterns: tuple[str, ...]
    needs: str
    decides: str
    source: str
    change: str


LOCAL: tuple[LocalCause, ...] = (
    LocalCause(BELLS, "wet side", "lost", "thin", "sharp", ("scattered", "cannot say"), "marks", "round, thin in all three layers; tap the tank", "14209",
               "knock the tank on the table after each pour"),
    LocalCause(BARE_TURNS, "wet side", "lost", "thin", "sharp", ("touching turns", "one angle"), "marks", "the patch equals the rebate in all three layers", "inference",
               "load on a bone-dry reel, and look at every turn before the tank is closed"),
    LocalCause(TOUCHED, "wet side", "tonight", "dense", "sharp", ("touching turns", "one angle"), "marks", "gone after bleaching and fixing again", "common-practice",
               "load on a bone-dry reel, and look at every turn before the tank is closed"),
    LocalCause(SPLASH, "wet side", "in correction", "dense", "soft", ("one angle",), "marks", "gathers at one angle of the reel", "common-practice",
               "pour in one go, the tank a little tilted, and drain to the last drop"),
    LocalCause(SURGE, "wet side", "in correction", "dense", "soft", ("perforation", "frame"), "marks", "repeats at the perforation's pitch; where a frame is a whole number of holes, so does the frame", "common-practice",
               "turn the tank gently and not always alike"),
    LocalCause(DRYING, "wet side", "tonight", "dense", "sharp", ("scattered", "cannot say"), "marks", "seen in reflected light; wipes or washes off", "inference",
               "wet the film last in distilled water with wetting agent; hang it free of dust"),
    LocalCause(LEAK, "camera", "in correction", "dense", "soft", ("frame",), "marks", "stays with the frame; not in the leader", "common-practice",
               "load in shade, and tape the seams of the back"),
    LocalCause(DIRT, "scanner", "in correction", "any", "sharp", ("frame",), "marks", "same place in every scan, also turned by 180°", "inference",
               "clean gate, pressure plate and the glass of the scanner"),
    LocalCause(LOW, "wet side", "lost", "thin", "soft", ("cannot say",), "with density", "one edge thin along the whole film, every turn alike", "common-practice",
               "measure how much covers the reel, and fill as much"),
    LocalCause(CARRIED_OVER, "wet side", "in correction", "dense", "soft", ("cannot say",), "additive", "also in the rebate", "inference",
               "rinse tank, lid and reel between the baths"),
    LocalCause(LIGHT, "scanner", "in correction", "any", "soft", ("cannot say",), "light", "in a scan of no film at all", "inference",
               "scan the light without film with every roll; change nothing in the process"),
)  # fmt: skip
#: What the answers do to the odds of a cause by where it sits, and by its name; set by hand (inference).
BY_PLACE: Mapping[tuple[str, str], Mapping[str, float]] = {
    ("seen on", "the negative"): {"scanner": 0.3},
    ("seen on", "only the picture"): {"scanner": 12.0, "camera": 0.1, "wet side": 0.1},
    ("stays with", "the scanner"): {"scanner": 30.0, "camera": 0.1, "wet side": 0.05},
    ("stays with", "the film"): {"scanner": 0.05, "camera": 0.6, "wet side": 2.0},
    ("stays with", "the frame"): {"scanner": 0.3, "camera": 8.0, "wet side": 0.3},
    ("same place in every roll", "yes"): {"scanner": 20.0, "wet side": 0.1, "camera": 0.7},
    ("same place in every roll", "no"): {"scanner": 0.1},
}
BY_CAUSE: Mapping[tuple[str, str], Mapping[str, float]] = {
    ("repeats", "one end"): {SPLASH: 2.0, LEAK: 2.0, CARRIED_OVER: 2.0, SURGE: 0.2, LOW: 0.2, DIRT: 0.2},
    ("repeats", "one edge"): {LOW: 8.0, SURGE: 3.0, DRYING: 1.5, BELLS: 0.4, DIRT: 0.5},
    ("repeats", "every frame"): {LEAK: 8.0, DIRT: 8.0, LIGHT: 4.0, BELLS: 0.1, SPLASH: 0.2, DRYING: 0.1, BARE_TURNS: 0.1, TOUCHED: 0.1},
    ("repeats", "steady distance"): {BARE_TURNS: 4.0, TOUCHED: 4.0, SPLASH: 4.0, SURGE: 4.0, BELLS: 0.1, DRYING: 0.3},
    ("repeats", "nowhere"): {BELLS: 2.5, DRYING: 2.5, SPLASH: 0.4, BARE_TURNS: 0.5, TOUCHED: 0.5, SURGE: 0.1, LEAK: 0.3, DIRT: 0.3, LOW: 0.2},
}  # fmt: skip
#: What a cast does, in words.
CASTS = {"with density": "the cast grows with density", "additive": "the cast adds alike in thin and dense parts", "light": "the cast goes with the light, not with the film"}  # fmt: skip
OF_STRIP = "the control strip is thin along one edge, beside those of good runs"
#: Odds of causes whose marks are dense or thin, where most marks are denser, where most are thinner, and of both signs.
DENSER = {"dense": (4.0, 0.3, 1.0001), "thin": (0.15, 4.0, 0.9)}
THIN = {
    "dense": "the marks are not denser than what is round them",
    "thin": "the marks are thinner in all layers",
}
#: Marks that were found as what one cause leaves: that cause, and in words. What most of them speak for it and against all else
#: (set by hand, inference).
OF_KIND = {
    "band": (SPLASH, "most are bands over the picture's whole height"),
    "plume": (SURGE, "most are plumes beside the perforations"),
}
SHAPED = 4.0
#: Odds of a cause by the repeat of its marks where they seem scattered, for a search misses mates: how often 12 to 14 of 20 to 28
#: marks are called so, beside truly scattered ones (`benchmarks.patterns`, each mark found in 0.6; docs/studies.md).
SEEM_SCATTERED = {
    "scattered": 12.0,
    "touching turns": 6.0,
    "one angle": 1.5,
    "frame": 0.7,
    "perforation": 0.7,
    "cannot say": 1.0,
}
#: Odds of causes that stay with the frame where few marks lie at one place of the picture, and of all others (set by hand).
STAYS, STAYS_NOT = 12.0, 0.1
LIGHT_KIND = "light"
LOCAL_BY_NAME = {cause.name: cause for cause in LOCAL}
PRIOR = 0.03
#: One printer point [log E], the smallest correction a printer makes (common practice).
POINT = 0.025
#: Up to here [D over the picture] the light of any scanner may be uneven (judged), and nobody looks for a cause of it.
LIGHT_UNEVEN = 0.05
#: What a cast speaks for the cause that goes with its kind, and for the film's where it may be the light's as well (judged).
OF_ITS_KIND, RIVAL = 20.0, 8.0


def need_of_cast(cast: Mapping[str, Any]) -> float:
    """How far a cast asks for a cause, 0 to 1: one whose whole range is under a printer's smallest correction hardly does.

    What goes with the light asks for one where it is more uneven than lights are.
    """
    if not cast.get("found"):
        return 0.0
    peaks = [abs(float(v)) for v in (cast.get("peak") or {}).values() if v is not None]
    usual = LIGHT_UNEVEN if cast.get("kind") == LIGHT_KIND else POINT
    return min(1.0, (2 * max(peaks) / usual) ** 2) if peaks else 1.0


def sureness(evidence: Evidence) -> float:
    """The chance that something made the marks; 0 without marks."""
    repeat = evidence.pattern not in ("cannot say", "scattered") or at_one_place(evidence.marks) > 0
    return chance_of_any(evidence.marks, evidence.frames, repeat)


def local_weights(evidence: Evidence) -> list[tuple[LocalCause, float, list[str], list[str]]]:
    """Weights of local causes, none where there is neither a mark nor a cast."""
    cast = evidence.cast.get("kind") if evidence.cast.get("found") else None
    found = []
    for cause in LOCAL:
        if cause.needs == "marks" and not evidence.marks:
            continue
        called = cast == cause.needs or _asked(cause, evidence) or _rival(cause, evidence)
        if cause.needs != "marks" and not called:
            continue
        weight, for_, against = PRIOR, list[str](), list[str]()
        if cause.needs == "marks":
            weight *= sureness(evidence)
        elif cast is not None:
            weight *= need_of_cast(evidence.cast)
        for factor, say in (
            *_mark_factors(cause, evidence),
            *_cast_factors(cause, evidence, cast),
            *_answers(cause, evidence),
            *factors_of_unexposed(cause.name, evidence),
            *factors_of_company(cause.name, evidence),
            *factors_of_tests(cause.name, evidence.tests, evidence.lines),
        ):
            weight *= factor
            (for_ if factor > 1 else against).append(say)
        found.append((cause, weight, for_, against))
    return found


def _asked(cause: LocalCause, evidence: Evidence) -> bool:
    """Whether answers, tests or the log put a cause in question that the scans alone do not: the light, or a tank filled too low."""
    if cause.needs == "with density":
        return evidence.answers.get("repeats") == "one edge" or bool(evidence.log.get("tank_fill_short"))
    told = {*evidence.answers, *evidence.tests}
    return cause.needs == "light" and bool(
        told & {"same place in every roll", "stays with", TURNED, BARE_LIGHT}
    )


def _rival(cause: LocalCause, evidence: Evidence) -> bool:
    """Whether a cast that goes with the light may be this cause's on the film, for nothing parts them."""
    return (
        cause.needs == "additive"
        and evidence.cast.get("kind") == LIGHT_KIND
        and evidence.cast.get("parted") is False
    )


def share_denser(marks: Sequence[Mapping[str, Any]]) -> float | None:
    """Share of the marks that are denser than their surroundings, each by its chance; None where no density is known."""
    known = [m for m in marks if all(dict(m.get("delta") or {}).get(c) is not None for c in "rgb")]
    return _share(known, [sum(float(m["delta"][c]) for c in "rgb") > 0 for m in known])


def share_sharp(marks: Sequence[Mapping[str, Any]]) -> float | None:
    """Share of the marks whose edge is sharp, each by its chance; of those drawn by hand no edge was seen."""
    seen = [m for m in marks if "drawn" not in (m.get("kind"), m.get("verdict"))]
    return _share(seen, [m.get("edge") == "sharp" for m in seen])


def _share(marks: Sequence[Mapping[str, Any]], held: Sequence[bool]) -> float | None:
    if not marks:
        return None
    own = np.array([chance_of(m) for m in marks]) + 1e-6
    return float(own @ np.array(held) / own.sum())


def _mark_factors(cause: LocalCause, evidence: Evidence) -> list[tuple[float, str]]:
    """What the look of the marks does to the odds of a cause, as far as it is sure that they are marks."""
    if cause.needs != "marks":
        return []
    every = (
        *_by_density(cause, share_denser(evidence.marks), evidence.scans.get("rung") != 0),
        *_by_edge(cause, share_sharp(evidence.marks)),
        *_by_repeat(cause, evidence.pattern, at_one_place(evidence.marks)),
        *factors_of_edges(cause.name, evidence.marks),
        *_by_kind(cause, evidence.marks),
    )
    sure = sureness(evidence)
    return [(factor**sure, f"{say} ({cause.source})") for factor, say in every]


def _by_density(cause: LocalCause, share: float | None, signed: bool = True) -> list[tuple[float, str]]:
    """What the marks' sign does to the odds; `signed` False: files that may be turned round tell only whether signs differ."""
    if share is None or cause.layers not in DENSER:
        return []
    dense, thin, mixed = DENSER[cause.layers]
    if not signed:
        return [(mixed, "marks of both signs")] if 0.3 <= share <= 0.7 else []
    if share > 0.7:
        return [(dense, "the marks are denser than what is round them")]
    if share < 0.3:
        return [(thin, THIN[cause.layers])]
    return [(mixed, "marks of both signs")]


def _by_edge(cause: LocalCause, sharp: float | None) -> list[tuple[float, str]]:
    if sharp is None:
        return []
    agrees = sharp > 0.6 if cause.edge == "sharp" else sharp < 0.4
    return [(2.0, f"edges are {cause.edge}") if agrees else (0.5, f"edges are not {cause.edge}")]


def _by_kind(cause: LocalCause, marks: Sequence[Mapping[str, Any]]) -> list[tuple[float, str]]:
    """Bands over the whole height are what a splash or a slow pour leaves, plumes beside most holes what surges through them."""
    for kind, (by, say) in OF_KIND.items():
        share = _share(marks, [mark.get("kind") == kind for mark in marks])
        if share is not None and share >= 0.5:
            return [(SHAPED if cause.name == by else 1 / SHAPED, say)]
    return []


def _by_repeat(cause: LocalCause, pattern: str, frames: int) -> list[tuple[float, str]]:
    """What a repeat does to the odds, or marks at one place of the picture in so many frames where no repeat is named."""
    if pattern in ("cannot say", "scattered") and frames:
        say = f"in {frames} frames a mark lies at one place of the picture"
        return [(STAYS if "frame" in cause.patterns else STAYS_NOT, say)]
    if pattern == "cannot say":
        return []
    if pattern == "scattered":
        return [(max(SEEM_SCATTERED[own] for own in cause.patterns), "no repeat was found among them")]
    return [(12.0 if pattern in cause.patterns else 0.1, f"they repeat: {pattern}")]


def _cast_factors(cause: LocalCause, evidence: Evidence, cast: str | None) -> list[tuple[float, str]]:
    found = list[tuple[float, str]]()
    if cause.name == LOW and evidence.log.get("tank_fill_short"):
        say = "the log says the tank was filled short"
        found.append((6.0, say + line_of(evidence, "tank_fill_short")))
    if cause.needs == "marks" or cast is None:
        return found
    if _rival(cause, evidence):
        say = f"light and film cannot be parted without an open gate ({cause.source})"
        found.append((RIVAL ** need_of_cast(evidence.cast), say))
    if cast == cause.needs:
        what = OF_STRIP if evidence.cast.get("of") == "strip" else CASTS[cast]
        found.append((OF_ITS_KIND ** need_of_cast(evidence.cast), f"{what} ({cause.source})"))
    return found


def _answers(cause: LocalCause, evidence: Evidence) -> list[tuple[float, str]]:
    """Four of the five questions, each as odds; the choices are those of the first look. Unexposed film: `shown_beside`."""
    return [
        (factor, f"answer: {question}: {answer}" + line_of(evidence, f"answer {question}"))
        for (question, answer), factors in (*BY_PLACE.items(), *BY_CAUSE.items())
        if evidence.answers.get(question) == answer
        and (factor := factors.get(cause.where, factors.get(cause.name))) is not None
    ]
