"""Where marks repeat: at one angle of the reel, on touching turns, at the perforations, in the frame, or nowhere.

For each repeat: how much likelier the places are with it than without, averaged over what is not known (`repeats`), against
draws at random within the pictures of the same frames, asked alike. All repeats together tell whether there is any, at a
chance level that those draws give; then the one is named that is likelier than all others together. Frame-locked comes
before perforation, since a frame pitch is often a whole number of perforations. Under eight marks, or without a reel, the
answer is "cannot say": three marks fit anything.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wetside.figures.reading import Pattern
from wetside.figures.reel import ReelFit, ReelPattern
from wetside.laws.statistics.circular import log_mean
from wetside.stages.causes.repeats import (
    AT_HOLES,
    IN_FRAME,
    Evidence,
    ReelHint,
    at_one_angle,
    at_one_phase,
    reel_fit,
    search_grid,
    with_mates,
)

__all__ = ["ReelHint", "Strip", "merged", "pattern"]
#: Marks that are needed, and places of their own among them: what lies together on the film is one event.
FEWEST, FEWEST_PLACES = 8, 6
LEVEL = 0.06
TRIALS = 400
#: How much likelier [natural log] perforations must be than the frame, and touching turns than one angle (whose marks have
#: mates too), to be named instead.
FINER = 1.1
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
    n, told = len(positions), len(places)
    if n < FEWEST or told < FEWEST_PLACES:
        few = f"{n} marks at {told} places; {FEWEST} marks at {FEWEST_PLACES} places are the fewest that can tell"
        return ReelPattern("cannot say", n, None, few, ON_REEL)
    if reel is None:
        help_ = "the reel's core radius and groove pitch; or " + ON_REEL
        return ReelPattern("cannot say", n, None, "no reel was given", help_)
    answer, share, p = best_repeat(places, strip, reel, rng)
    if p < LEVEL and share > 0.5:
        return ReelPattern(answer, n, p, SAY[answer], "", _fit(answer, places, strip, reel))  # type: ignore[arg-type]
    if p < LEVEL:
        reason = f"they repeat (p {p:.2f}), but no one repeat is likelier than the others together"
        return ReelPattern("cannot say", n, p, reason, ON_REEL)
    if p < 0.10 or n < 12:
        reason = f"no repeat stands out of chance (best p {p:.2f}), and {n} marks cannot rule one out"
        return ReelPattern("cannot say", n, p, reason, ON_REEL)
    return ReelPattern("scattered", n, p, f"no repeat stands out of chance (best p {p:.2f})", "")


def best_repeat(
    places: np.ndarray, strip: Strip, reel: ReelHint, rng: np.random.Generator
) -> tuple[str, float, float]:
    """The likeliest repeat, its share among all repeats, and the share of draws at random that repeat as well in any way."""
    everything = np.vstack([places, _at_random(len(places), strip, rng)])
    found = {name: _against_random(evidence(everything)) for name, evidence in _repeats(strip, reel)}
    for finer, plain in (("perforation", "frame"), ("touching turns", "one angle")):
        if finer in found and found[finer][0] < found[plain][0] + FINER:
            del found[finer]
    table = np.stack(list(found.values()))
    any_ = log_mean(table.T)
    shares = np.exp(table[:, 0] - table[:, 0].max())
    best = int(shares.argmax())
    return list(found)[best], float(shares[best] / shares.sum()), float((any_ >= any_[0] - 1e-9).mean())


def _against_random(logs: np.ndarray) -> np.ndarray:
    """Evidence (1 + draws,) such that draws at random, all but the first, have a mean ratio of 1."""
    return logs - log_mean(np.clip(logs[1:], -50.0, 20.0))


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


def _repeats(strip: Strip, reel: ReelHint) -> list[tuple[str, Evidence]]:
    search, shown = search_grid(reel), min(1.0, strip.picture / strip.pitch)
    found: list[tuple[str, Evidence]] = [
        ("frame", lambda s: at_one_phase(s - strip.first, strip.pitch, IN_FRAME, shown)),
        ("one angle", lambda s: at_one_angle(_from_core(s, strip, reel), search.every(2))),
        ("touching turns", lambda s: with_mates(_from_core(s, strip, reel), search.every(5))),
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
