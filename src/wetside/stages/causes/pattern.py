"""Where marks repeat: at one angle of the reel, on touching turns, at the perforations, in the frame, or nowhere.

Each repeat has one statistic (`repeats`), searched over what is not known. Draws at random within the pictures of the same
frames, searched alike, say how often chance does as well; the best repeat's chance level is taken among the best of each
draw, so looking for five repeats costs what it must. Frame-locked comes before perforation, since a frame pitch is often
a whole number of perforations. Under eight marks, or without a reel, the answer is "cannot say": three marks fit anything.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wetside.figures.reading import Pattern
from wetside.figures.reel import ReelFit, ReelPattern
from wetside.stages.causes.repeats import (
    AT_HOLES,
    IN_FRAME,
    ReelHint,
    Statistic,
    at_one_angle,
    at_one_phase,
    reel_fit,
    search_grid,
    with_mates,
)

__all__ = ["ReelHint", "Strip", "merged", "pattern"]
FEWEST = 8
LEVEL = 0.04
TRIALS = 500
NEARLY = 0.75
ON_REEL = "put the dry, uncut film back on its reel and look where the marks lie"
SAY = {
    "frame": "they lie at one place in the frame",
    "perforation": "they repeat at the perforation's pitch",
    "one angle": "they lie at one angle of the reel",
    "touching turns": "marks have mates one turn further at their angle",
}


@dataclass(frozen=True, slots=True)
class Strip:
    """How the pictures lie along the film [mm]: first frame's start, pitch, picture length, number of frames."""

    first: float
    pitch: float
    picture: float
    frames: int
    perforation: float | None = None
    perforation_phase: float | None = None
    accuracy: float = 1.0

    @property
    def end(self) -> float:
        return self.first + self.pitch * self.frames


def pattern(positions: list[float], strip: Strip, reel: ReelHint | None, rng: np.random.Generator) -> Pattern:
    """Which repeat the marks' places along the film [mm] show, with its chance level.

    Needs at least eight marks and a reel; otherwise "cannot say", with the test on the dry reel.
    """
    places = merged(positions)
    n = len(places)
    if n < FEWEST:
        few = f"{n} marks at known places; {FEWEST} are the fewest that can tell"
        return ReelPattern("cannot say", n, None, few, ON_REEL)
    if reel is None:
        help_ = "the reel's core radius and groove pitch; or " + ON_REEL
        return ReelPattern("cannot say", n, None, "no reel was given", help_)
    answer, p = best_repeat(places, strip, reel, rng)
    if p < LEVEL:
        return ReelPattern(answer, n, p, SAY[answer], "", _fit(answer, places, strip, reel))  # type: ignore[arg-type]
    if p < 0.10 or n < 12:
        reason = f"no repeat stands out of chance (best p {p:.2f}), and {n} marks cannot rule one out"
        return ReelPattern("cannot say", n, p, reason, ON_REEL)
    return ReelPattern("scattered", n, p, f"no repeat stands out of chance (best p {p:.2f})", "")


def best_repeat(
    places: np.ndarray, strip: Strip, reel: ReelHint, rng: np.random.Generator
) -> tuple[str, float]:
    """The repeat that stands out most, and the share of draws at random whose own best stands out as much."""
    everything = np.vstack([places, _at_random(len(places), strip, rng)])
    names, scores = [], []
    for name, statistic in _repeats(strip, reel):
        seen = statistic(everything)
        names.append(name)
        scores.append(_rarity(seen))
    rarity = np.array(scores)
    best = rarity.max(axis=0)
    p = float((best >= best[0] - 1e-9).mean())
    # Marks of one angle have mates too, and a frame is often a whole number of perforations: the stricter repeat comes first.
    winner = next(name for name, own in zip(names, rarity[:, 0]) if own >= NEARLY * rarity[:, 0].max())
    return winner, p


def _rarity(seen: np.ndarray) -> np.ndarray:
    """How rare each value is among all, as −ln of its chance: by rank, and beyond the ranks by distance in spreads."""
    ranks = seen[:, None] <= seen[None, :] + 1e-9
    chance = ranks.mean(axis=1)
    middle, upper = np.quantile(seen, [0.5, 0.95])
    beyond = np.maximum((seen - upper) / max(upper - middle, 1e-6), 0.0)
    return -np.log(chance) + beyond


def merged(positions: list[float], within: float = 1.2) -> np.ndarray:
    """Places along the film; marks closer than 1.2 mm along the film are one event."""
    ordered = np.sort(np.asarray(positions, float))
    if len(ordered) == 0:
        return ordered
    groups = np.split(ordered, np.flatnonzero(np.diff(ordered) > within) + 1)
    return np.array([group.mean() for group in groups])


def _from_core(places: np.ndarray, strip: Strip, reel: ReelHint) -> np.ndarray:
    """Places counted from the core's end; the tail beyond the last frame is taken as 40 mm."""
    return places if reel.core == "head" else strip.end + 40.0 - places


def _repeats(strip: Strip, reel: ReelHint) -> list[tuple[str, Statistic]]:
    search = search_grid(reel)
    found: list[tuple[str, Statistic]] = [
        ("frame", lambda s: at_one_phase(s - strip.first, strip.pitch, IN_FRAME)),
        ("one angle", lambda s: at_one_angle(_from_core(s, strip, reel), search)),
        ("touching turns", lambda s: with_mates(_from_core(s, strip, reel), search.every(3))),
    ]
    if strip.perforation and strip.accuracy <= 0.5:
        pitch = strip.perforation
        found.append(("perforation", lambda s: at_one_phase(s - strip.first, pitch, AT_HOLES)))
    return found


def _fit(answer: str, places: np.ndarray, strip: Strip, reel: ReelHint) -> ReelFit | None:
    if answer != "one angle":
        return None
    return reel_fit(_from_core(places, strip, reel), search_grid(reel))


def _at_random(n: int, strip: Strip, rng: np.random.Generator) -> np.ndarray:
    """Positions (trials, n) drawn evenly over the pictures."""
    frames = rng.integers(0, max(1, strip.frames), (TRIALS, n))
    return strip.first + frames * strip.pitch + rng.uniform(0, strip.picture, (TRIALS, n))
