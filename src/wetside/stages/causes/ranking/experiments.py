"""Experiments that part causes: what to do, how long it takes, what each outcome would mean; outcomes feed the ranking.

Each outcome multiplies the odds of the causes it speaks for or against; the factors are set by hand (inference), except
that retained silver and halide go in a redo (tg2044-1). An outcome is one line of the book: judged, about "test".
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from wetside.laws.statistics.paired import (
    largest_spread,
    paired_difference,
    paired_power,
    smallest_shown,
)

#: A difference of halves that is worth a bath [D]: the control chart's action limit of HD−LD, H-24.01 table 1-5.
MATTERS = 0.05
SILVER, LEUCO, HALIDE = (
    "weak bleach: retained silver",
    "weak bleach: leuco-cyan",
    "weak fixer: retained halide",
)
TOUCHED = "turns touching in bleach or fixer"
CARRIED = "developer carried into the bleach"
EXPOSED = ("underexposed", "overexposed", "light leak in the camera")
HOT, COLD = "developer hot or long", "developer cold or short"
DEVELOPER = (
    "developer hot or long", "developer cold or short", "low agitation", "developer too strong", "developer dilute or spent",
    "developer oxidised", "bleach or fixer in the developer",
)  # fmt: skip
#: The experiment that tells film from scanner.
TURNED = "turn a frame by 180°"
TWIN = "twin to a laboratory"
LIGHT, DIRT = "light under the negative", "dust or dirt in camera or scanner"
SCANNER = (LIGHT, DIRT)
#: Experiments on the dry film, on the light and on the thermometer: minutes, and nothing wet.
DRY_REEL, REFLECTED = "dry film on its reel", "look in reflected light"
BARE_LIGHT, THERMOMETER = "scan the light without film", "compare the thermometer"
BELLS, BARE_TURNS, SPLASH = (
    "air bells in the developer",
    "turns touching in the developer",
    "splash or slow pour",
)
SURGE, DRYING, LOW = (
    "surge at the perforations",
    "drying marks or residue on the surface",
    "tank filled too low",
)
LEAK, CARRIED_OVER = "light leak in the camera", "stain carried over the film"


def _all(names: Iterable[str], factor: float) -> dict[str, float]:
    return dict.fromkeys(names, factor)


@dataclass(frozen=True)
class Outcome:
    """One way an experiment comes out, what it means in words, and the factors on the causes' odds."""

    answer: str
    means: str
    factors: Mapping[str, float]


@dataclass(frozen=True)
class Experiment:
    """A plan: its name, what to do in order, the minutes at the bench, and its outcomes."""

    name: str
    steps: tuple[str, ...]
    minutes: float
    outcomes: tuple[Outcome, ...]
    caution: str = ""


SHEET = "Gloves and goggles; the sheet that came with the chemical rules."
EXPERIMENTS: tuple[Experiment, ...] = (
    Experiment(
        "re-bleach one frame",
        ("Cut one bad frame off the roll and scan it once more as it is.", "Soak it for a minute, then bleach, wash, fix and wash it in fresh baths, longer than usual.",
         "Dry it, scan it with the same light and exposure, and compare."), 25,
        (Outcome("changed", "silver or leuco dye was left: the whole roll can be saved by the same", {SILVER: 30.0, LEUCO: 30.0, TOUCHED: 6.0, **_all(DEVELOPER, 0.1)}),
         Outcome("same", "the bleach did its work; a developer fault or the exposure stays", {SILVER: 0.03, LEUCO: 0.05, HALIDE: 0.3, TOUCHED: 0.2})), SHEET),
    Experiment(
        "re-fix one frame",
        ("Cut one bad frame off the roll and scan it once more as it is.", "Soak it for a minute, fix it in fresh fixer twice as long as usual, wash.",
         "Dry it, scan it with the same light and exposure, and compare."), 15,
        (Outcome("changed", "silver halide was left: fix the roll again", {HALIDE: 30.0, TOUCHED: 4.0, **_all(DEVELOPER, 0.2)}),
         Outcome("same", "the fixer did its work", {HALIDE: 0.03, TOUCHED: 0.5})), SHEET),
    Experiment(
        "measure the leader",
        ("Find film that saw no light: leader, gaps, the rebate.", "Read it, and the same of a good roll of this stock, with one light and exposure."), 5,
        (Outcome("D-min up", "age, fog or a stain", {"old stock": 3.0, CARRIED: 2.0, "underexposed": 0.2, "overexposed": 0.2}),
         Outcome("D-min normal", "neither age nor stain: development or exposure", {"old stock": 0.15, "developer oxidised": 0.3, HALIDE: 0.2}))),
    Experiment(
        "split roll: two fixers",
        ("Expose one even subject along a roll, frame after frame.", "Develop, stop and bleach it whole; cut it in the middle in the dark or after the bleach.",
         "Fix one half in the bath under suspicion, the other in a fresh one; wash and dry alike.", "Read the halves pair by pair from the cut outwards."), 60,
        (Outcome("halves differ", "the fixer under suspicion does it", {HALIDE: 25.0, TOUCHED: 3.0, **_all(DEVELOPER, 0.1)}),
         Outcome("halves alike", "whatever it is, it is before the fixer", {HALIDE: 0.05})), SHEET),
    Experiment(
        "split roll: two bleaches",
        ("Expose one even subject along a roll, frame after frame.", "Develop and stop it whole; cut it in the middle in the dark.",
         "Bleach one half in the bath under suspicion, the other in a fresh one; fix, wash and dry alike.", "Read the halves pair by pair from the cut outwards."), 60,
        (Outcome("halves differ", "the bleach under suspicion does it", {SILVER: 20.0, LEUCO: 20.0, CARRIED: 3.0, **_all(DEVELOPER, 0.1)}),
         Outcome("halves alike", "whatever it is, it is before the bleach", {SILVER: 0.05, LEUCO: 0.05, CARRIED: 0.4})), SHEET),
    Experiment(
        "clip test",
        ("Cut 30 cm of the same stock, exposed as the roll was, off its end.", "Process it alone in the very baths meant for the roll.", "Read base and mid-tones against a good roll before the rest goes in."), 45,
        (Outcome("clip good", "the baths hold: look at exposure, camera and scanner", {**_all(DEVELOPER, 0.2), SILVER: 0.2, LEUCO: 0.2, HALIDE: 0.2, **_all(EXPOSED, 3.0), **_all(SCANNER, 2.0)}),
         Outcome("clip bad", "the baths or the stock: do not risk the roll", {**_all(DEVELOPER, 3.0), SILVER: 3.0, LEUCO: 3.0, HALIDE: 3.0, "old stock": 2.0, **_all(EXPOSED, 0.3)})), SHEET),
    Experiment(
        TWIN,
        ("Expose two lengths of one roll alike, in the same camera on the same day.", "Process one at home and send the other.", "Scan both with one light and exposure, and compare."), 20,
        (Outcome("twin good", "the home process does it", {**_all(DEVELOPER, 4.0), SILVER: 4.0, LEUCO: 4.0, HALIDE: 4.0, CARRIED: 4.0, "old stock": 0.1, **_all(EXPOSED, 0.1), **_all(SCANNER, 0.1)}),
         Outcome("twin alike", "the film, the camera or the scanner does it", {**_all(DEVELOPER, 0.08), SILVER: 0.08, LEUCO: 0.08, HALIDE: 0.08, CARRIED: 0.1, "old stock": 5.0, **_all(EXPOSED, 5.0), **_all(SCANNER, 5.0)}))),
    Experiment(
        TURNED,
        ("Scan one frame, turn it by 180° in the holder without touching anything else, scan it again.", "See whether the mark or the gradient turned with it."), 4,
        (Outcome("turned with the film", "it is on the film", _all(SCANNER, 0.05)),
         Outcome("stayed in place", "it is the light or the glass: correct it, and change nothing in the process", {**_all(SCANNER, 25.0), CARRIED_OVER: 0.05, LOW: 0.05}))),
    Experiment(
        REFLECTED,
        ("Hold the dry negative so that a lamp is mirrored in it: the emulsion side first, then the shiny one.", "Look at the place of each mark: a rim, a film or a scratch that catches the light?"), 2,
        (Outcome("on the surface", "residue, a drying mark or a scratch: wash the roll again and dry it slowly; a scratch stays", {DRYING: 11.0}),
         Outcome("in the film", "nothing lies on it: it is in the dye or the silver", {DRYING: 0.1}))),
    Experiment(
        DRY_REEL,
        ("Keep the dry roll in one piece; wash and dry your hands.", "Put it back on the reel it was on, the same end first, until it lies as it lay.",
         "Look at it from above under a lamp, then from the side: where do the marks lie?"), 10,
        (Outcome("at one side", "a splash, a slow pour, or the side that lay lowest", {SPLASH: 12.0, BARE_TURNS: 2.0, TOUCHED: 2.0, **_all((BELLS, DRYING, LEAK, DIRT), 0.2)}),
         Outcome("on neighbouring turns", "turns touched there", {BARE_TURNS: 12.0, TOUCHED: 12.0, SPLASH: 0.5, **_all((BELLS, DRYING, LEAK, DIRT), 0.1)}),
         Outcome("at one level", "what stood or ran there: too little in the tank, or a pour that was interrupted", {LOW: 8.0, SPLASH: 4.0, DRYING: 2.0, **_all((BELLS, LEAK, DIRT, BARE_TURNS, TOUCHED), 0.2)}),
         Outcome("anywhere", "the reel and the pour have nothing to do with it", {SPLASH: 0.1, BARE_TURNS: 0.2, TOUCHED: 0.2}))),
    Experiment(
        BARE_LIGHT,
        ("Take the film out of the holder and leave all else as it was, exposure too.", "Scan the bare light; look where the gradient or the spot was."), 3,
        (Outcome("there too", "it is the light's or the glass's, not the film's", {LIGHT: 20.0, DIRT: 5.0, CARRIED_OVER: 0.05, LOW: 0.05}),
         Outcome("even", "the light is not to blame", {LIGHT: 0.03, DIRT: 0.5}))),
    Experiment(
        THERMOMETER,
        ("Fill a jug with water at the developer's temperature.", "Hold your thermometer and a second one you trust in it side by side; read both after a minute."), 10,
        (Outcome("differs by 0.3 °C or more", "the developer was warmer or colder than the book says: note the difference and correct by it", _all((HOT, COLD), 5.0)),
         Outcome("agrees", "the thermometer is not to blame", _all((HOT, COLD), 0.6)))),
)  # fmt: skip
BY_NAME = {experiment.name: experiment for experiment in EXPERIMENTS}


def outcome_of(name: str, answer: str) -> Outcome | None:
    """The outcome of that answer, if the experiment knows it."""
    known = BY_NAME.get(name)
    return next((one for one in known.outcomes if one.answer == answer), None) if known else None


def factors_of_tests(
    cause: str, tests: Mapping[str, str], lines: Mapping[str, str]
) -> list[tuple[float, str]]:
    """What the outcomes of experiments do to the odds of one cause; `lines`: the line each outcome was kept as."""
    found = []
    for name, answer in tests.items():
        outcome = outcome_of(name, str(answer))
        if outcome is not None and cause in outcome.factors:
            kept = f" (line {lines[name]})" if name in lines else ""
            found.append((outcome.factors[cause], f"test: {name}: {answer}{kept}"))
    return found


def after(outcome: Outcome, weights: Mapping[str, float]) -> dict[str, float]:
    """The causes' weights (they sum to 1) if an experiment came out so."""
    moved = {name: weight * outcome.factors.get(name, 1.0) for name, weight in weights.items()}
    total = sum(moved.values())
    return {name: weight / total for name, weight in moved.items()} if total else dict(weights)


def word_for(weight: float) -> str:
    """Likely, possible or unlikely; the only words that go outward for a weight (0 to 1)."""
    return "likely" if weight >= 0.5 else "possible" if weight >= 0.12 else "unlikely"


def halves(pairs: Sequence[tuple[float, float]]) -> tuple[str | None, str]:
    """The outcome of a split roll from its pairs (suspected bath, fresh bath) [D], and why; None where so few cannot say."""
    if len(pairs) < 3:
        return None, f"{len(pairs)} pair{'s' * (len(pairs) != 1)}; three are the fewest, eight are good"
    first, second = np.array(pairs, float).T
    found = paired_difference(first, second)
    spread = largest_spread(float(np.std(second - first, ddof=1)), len(pairs))
    say = f"the halves differ by {found.mean:+.3f} ± {found.spread:.3f} D, the suspected one {'thinner' if found.mean > 0 else 'denser'}, over {found.pairs} pairs (p {'under 0.001' if found.p < 0.001 else f'{found.p:.3f}'})".replace(
        "-", "−", 1
    )
    if found.p < 0.05:
        return "halves differ", say
    power = paired_power(MATTERS, max(spread, 1e-4), len(pairs))
    if power < 0.8:
        return None, f"{say}; so few would show {MATTERS} D in only {power:.0%} of rolls: read more pairs"
    return "halves alike", f"{say}; {MATTERS} D would have shown in {power:.0%} of rolls"


@lru_cache
def power_in_words(pairs: int = 8, spread: float = 0.03) -> str:
    """What a split roll of so many pairs can show, for its plan; `spread` of one pair's difference [D]."""
    least = smallest_shown(spread, pairs)
    return (
        f"{pairs} pairs that scatter by {spread} D show a difference of {least:.3f} D in four rolls of five."
    )


def plan(experiment: Experiment, weights: Mapping[str, float]) -> dict[str, Any]:
    """What to do, the minutes, and where each outcome would leave the causes."""
    outcomes = []
    for outcome in experiment.outcomes:
        then = sorted(after(outcome, weights).items(), key=lambda entry: -entry[1])[:2] if weights else []
        outcomes.append(
            {
                "answer": outcome.answer,
                "means": outcome.means,
                "then": [{"cause": cause, "how": word_for(weight)} for cause, weight in then],
            }
        )
    power = [power_in_words()] if experiment.name.startswith("split roll") else []
    return {
        "name": experiment.name, "steps": [*experiment.steps, *power], "minutes": experiment.minutes, "caution": experiment.caution,
        "outcomes": outcomes,
    }  # fmt: skip
