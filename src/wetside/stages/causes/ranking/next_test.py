"""The cheapest next test: what it is expected to tell a minute, over the causes that are still open.

A strip's causes and those of marks or casts are two questions, and one test may tell of either; each is asked by itself,
for chances of both may be high at once. A redo that works is a cure as well as an answer: it saves the roll in hand and
not only the next one, and that counts.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from wetside.laws.sensitometry.faults import BY_NAME
from wetside.stages.causes.ranking.evidence import Evidence
from wetside.stages.causes.ranking.experiments import BARE_LIGHT, DRY_REEL, REFLECTED, THERMOMETER, TURNED
from wetside.stages.causes.ranking.experiments import BY_NAME as EXPERIMENT_NAMED
from wetside.stages.causes.ranking.model import CLEAN, Ranked


@dataclass(frozen=True, slots=True)
class Test:
    """A test, its minutes, and the causes under which it comes out one way (each with the chance that it does).

    `experiments`: those of the plans that it is; with all their outcomes kept it is not offered again.
    """

    what: str
    minutes: float
    tells: str
    yes: dict[str, float]
    otherwise: float
    experiments: tuple[str, ...] = ()
    cures: bool = False


#: Minutes that any test takes beside its own, to begin and to note it; a chance over which a question is settled. Judged.
SETTING_UP, SETTLED = 5.0, 0.8
#: What a roll that the test itself shows how to save is worth [bit]; judged, not measured.
SAVED = 1.0
NOT = "not looked"
SILVER = {
    "weak bleach: retained silver": 0.95,
    "weak bleach: leuco-cyan": 0.9,
    "turns touching in bleach or fixer": 0.9,
}
HALIDE = {"weak fixer: retained halide": 0.95, "turns touching in bleach or fixer": 0.6}
TESTS: tuple[Test, ...] = (
    Test("bleach and fix one frame again, and scan it again", 25, "silver or leuco-cyan goes; a developer fault stays", {**SILVER, **HALIDE}, 0.05, ("re-bleach one frame",), cures=True),
    Test("fix one frame again, and scan it again", 15, "retained halide goes; everything else stays", HALIDE, 0.05, ("re-fix one frame",), cures=True),
    Test("measure the unexposed leader against a good roll's", 5, "base up: age, fog or stain; base normal: exposure or development",
         {"old stock": 0.9, "developer oxidised": 0.8, "bleach or fixer in the developer": 0.9, "weak fixer: retained halide": 0.9,
          "developer carried into the bleach": 0.85, "developer too strong": 0.6, "developer hot or long": 0.35, "stain carried over the film": 0.8}, 0.1, ("measure the leader",)),
    Test("scan the light without film, same exposure", 3, "a gradient there is the light's, not the film's", {"light under the negative": 0.97}, 0.05, (BARE_LIGHT,)),
    Test("turn one frame by 180° in the holder and scan it again", 4, "what stays in place is the scanner's",
         {"light under the negative": 0.95, "dust or dirt in camera or scanner": 0.8}, 0.04, (TURNED,)),
    Test("put the dry, uncut film back on its reel and look where the marks lie", 10, "one angle, touching turns, or nothing",
         {"turns touching in the developer": 0.85, "turns touching in bleach or fixer": 0.85, "splash or slow pour": 0.8}, 0.1, (DRY_REEL,)),
    Test("look at the marks in reflected light, both sides", 2, "residue and scratches show on the surface; dye does not",
         {"drying marks or residue on the surface": 0.9}, 0.08, (REFLECTED,)),
    Test("compare the thermometer with a second one at 41 °C", 10, "a wrong thermometer explains hot or cold",
         {"developer cold or short": 0.5, "developer hot or long": 0.5}, 0.1, (THERMOMETER,)),
    Test("run a home control strip beside a roll from the same bath", 40, "the process's own part, without the pictures",
         {"developer cold or short": 0.9, "developer hot or long": 0.9, "low agitation": 0.8, "developer dilute or spent": 0.9,
          "developer too strong": 0.9, "underexposed": 0.05, "overexposed": 0.05, "old stock": 0.1}, 0.2),
    Test("develop a split roll: together, cut after the stop, halves into two fixers or bleaches", 60, "a bath's part against everything else",
         {**SILVER, **HALIDE}, 0.1, ("split roll: two fixers", "split roll: two bleaches")),
)  # fmt: skip

#: What to see first where nothing was: linear scans, and from those on a strip.
SCAN: dict[str, Any] = {
    "what": "scan with the rebate in view, linear 16-bit, not inverted, and the light once without film", "minutes": 10,
    "tells": "stain, fog and evenness in densities; without it no density can be read",
}  # fmt: skip
STRIP: dict[str, Any] = {
    "what": "run a home control strip beside the next roll, and read it against a good roll's", "minutes": 40,
    "tells": "whether development, bleach and fixer held; without one a fault of the whole roll can only be guessed",
}  # fmt: skip

#: Questions whose answer tells what an experiment would.
TOLD_BY = {"in unexposed film": "measure the leader", "stays with": TURNED}


def done(evidence: Evidence) -> set[str]:
    """Experiments that were made, whose outcome an answer tells, or that scans without densities cannot show."""
    blind = {"measure the leader"} if evidence.scans.get("rung") in (0, 1) else set()
    answered = {name for question, name in TOLD_BY.items() if evidence.answers.get(question, NOT) != NOT}
    return answered | set(evidence.tests) | blind


def experiments_of(what: str) -> tuple[str, ...]:
    """The experiments that a test is, by its words; none where its outcome is read off scans or lines."""
    return next((test.experiments for test in TESTS if test.what == what), ())


def outcomes_of_test(what: str) -> dict[str, list[str]]:
    """How the experiments that a test is may come out, by experiment."""
    return {name: [one.answer for one in EXPERIMENT_NAMED[name].outcomes] for name in experiments_of(what)}


def cheapest_test(evidence: Evidence, causes: Sequence[Ranked]) -> dict[str, Any]:
    """The cheapest next test; while nothing at all was seen or measured, what would be seen or measured first."""
    if set(evidence.kinds) - {"log"}:
        return next_test(causes, done(evidence))
    return STRIP if int(evidence.scans.get("rung") or 0) >= 2 else SCAN


def information(weights: np.ndarray, chance: np.ndarray) -> float:
    """Expected information [bit] of a yes-or-no test over causes (n,): weights that sum to 1, and the chance of a yes."""
    yes = float(weights @ chance)
    told = chance * _log2(chance / yes) + (1 - chance) * _log2((1 - chance) / (1 - yes))
    return float(weights @ told)


def worth(test: Test, causes: Sequence[Ranked]) -> float:
    """Information [bit] of a test over both questions, and what it may save."""
    found = 0.0
    for own in _questions(causes):
        names, curable, weights = zip(*own)
        chance = np.array([_says_yes(test, name) for name in names])
        found += information(np.array(weights), chance)
        if test.cures:
            tonight = np.array([cure == "tonight" and name in test.yes for name, cure in zip(names, curable)])
            found += SAVED * float((np.array(weights) * tonight) @ chance)
    return found


def _questions(causes: Sequence[Ranked]) -> list[list[tuple[str, str, float]]]:
    """Name, cure and chance of the strip's causes, then of marks' and casts'; what those leave unexplained is a clean one."""
    found = []
    for of_strip in (True, False):
        own = [
            (c.name, c.curable, c.chance)
            for c in causes
            if (c.name in BY_NAME or c.name == CLEAN) == of_strip
        ]
        rest = 1 - sum(chance for _, _, chance in own)
        own += [(CLEAN, "", rest)] if rest > 0 else []
        total = sum(chance for _, _, chance in own)
        found.append([(name, cure, chance / total) for name, cure, chance in own])
    return found


def _says_yes(test: Test, name: str) -> float:
    return test.yes.get(name, 0.05 if name == CLEAN else test.otherwise)


def _log2(ratio: np.ndarray) -> np.ndarray:
    return np.log2(np.maximum(ratio, 1e-12))


def next_test(causes: Sequence[Ranked], made: Collection[str] = ()) -> dict[str, Any]:
    """The test worth the most a minute, of those not `made` (names of experiments); without causes, the one that opens the most."""
    if not causes:
        return SCAN
    firsts = [max(own, key=lambda one: one[2]) for own in _questions(causes)]
    cures = [name for name, cure, _ in firsts if cure == "tonight"]
    redone = any(test.cures and set(test.experiments) <= set(made) for test in TESTS)
    if all(chance > SETTLED for _, _, chance in firsts) and (redone or not cures):
        return _none_needed([name for name, _, _ in firsts if name != CLEAN], cures)
    open_ = [test for test in TESTS if not test.experiments or not set(test.experiments) <= set(made)]
    best = max(open_, key=lambda test: worth(test, causes) / (test.minutes + SETTING_UP))
    return {"what": best.what, "minutes": best.minutes, "tells": best.tells}


def _none_needed(found: Sequence[str], cures: Sequence[str]) -> dict[str, Any]:
    """What to say where each question has its answer."""
    if not found:
        return {
            "what": "none needed: expose and process the next roll alike",
            "minutes": 0,
            "tells": "whether it stays so",
        }
    if cures:
        return {"what": "none needed: do to the whole roll what was done to the frame", "minutes": 0,
                "tells": f"whether {' and '.join(cures)} goes everywhere"}  # fmt: skip
    return {"what": "none needed: mend that one thing, and look at the next roll", "minutes": 0,
            "tells": f"whether it was {' and '.join(found)}"}  # fmt: skip
