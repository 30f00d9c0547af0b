"""Where marks repeat: at one angle of the reel, on touching turns, at the perforations, in the frame, or nowhere.

Each hypothesis has one statistic; its chance level comes from Monte Carlo with the same search over core radius and
groove pitch, on positions drawn within the pictures of the same frames. Frame-locked is tried before perforation,
since a frame pitch is often a whole number of perforations. Under eight marks, or without a reel, the answer is
"cannot say": three marks fit anything.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from wetside.figures.reading import Pattern
from wetside.laws.reel.spiral import TURN, angle_at_length
from wetside.laws.statistics.circular import resultant_length

FEWEST = 8
LEVEL = 0.01
TRIALS = 600
ON_REEL = "put the dry, uncut film back on its reel and look where the marks lie"


@dataclass(frozen=True, slots=True)
class ReelHint:
    """What is known of the reel [mm]: core radius and its spread, groove pitch, and which end lay at the core."""

    core_radius: float
    pitch: float
    spread: float = 1.0
    core: str = "head"


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


@dataclass(frozen=True)
class Search:
    """All core radii and pitches tried, as two flat arrays."""

    radii: np.ndarray = field(default_factory=lambda: np.zeros(0))
    pitches: np.ndarray = field(default_factory=lambda: np.zeros(0))


def search_grid(hint: ReelHint) -> Search:
    """Core radii within two spreads and pitches within 4 %; more radius when the length beyond the core is unknown."""
    extra = 2.5 if hint.core == "tail" else 0.0
    radii = np.arange(
        max(3.0, hint.core_radius - 2 * hint.spread), hint.core_radius + 2 * hint.spread + extra, 0.15
    )
    pitches = hint.pitch * np.linspace(0.96, 1.04, 9)
    grid = np.meshgrid(radii, pitches, indexing="ij")
    return Search(grid[0].ravel(), grid[1].ravel())


def pattern(positions: list[float], strip: Strip, reel: ReelHint | None, rng: np.random.Generator) -> Pattern:
    """Which repeat the marks' places along the film [mm] show, with its chance level.

    Needs at least eight marks and a reel; otherwise "cannot say", with the test on the dry reel.
    """
    places = merged(positions)
    n = len(places)
    if n < FEWEST:
        return Pattern(
            "cannot say",
            n,
            None,
            f"{n} marks at known places; {FEWEST} are the fewest that can tell",
            ON_REEL,
        )
    if reel is None:
        return Pattern(
            "cannot say",
            n,
            None,
            "no reel was given",
            "the reel's core radius and groove pitch; or " + ON_REEL,
        )
    null = _null(n, strip, rng)
    for answer, statistic, say in _hypotheses(strip, reel):
        p = _chance(statistic, places, null)
        if p < LEVEL:
            return Pattern(answer, n, p, say, "")  # type: ignore[arg-type]
    return _nothing(n, places, strip, reel, null)


def merged(positions: list[float], within: float = 1.2) -> np.ndarray:
    """Places along the film; marks closer than 1.2 mm along the film are one event."""
    ordered = np.sort(np.asarray(positions, float))
    if len(ordered) == 0:
        return ordered
    groups = np.split(ordered, np.flatnonzero(np.diff(ordered) > within) + 1)
    return np.array([group.mean() for group in groups])


def _hypotheses(strip: Strip, reel: ReelHint) -> list[tuple[str, Callable[[np.ndarray], np.ndarray], str]]:
    search = search_grid(reel)
    length = strip.end + 40.0

    def from_core(s: np.ndarray) -> np.ndarray:
        return s if reel.core == "head" else length - s

    found: list[tuple[str, Callable[[np.ndarray], np.ndarray], str]] = [
        (
            "frame",
            lambda s: _phase_agreement(s - strip.first, strip.pitch),
            "they lie at one place in the frame",
        ),
        ("one angle", lambda s: _one_angle(from_core(s), search), "they lie at one angle of the reel"),
        (
            "touching turns",
            lambda s: _mates(from_core(s), search),
            "marks have mates one turn further at their angle",
        ),
    ]
    if strip.perforation and strip.accuracy <= 0.5:
        pitch = strip.perforation
        found.insert(
            1, ("perforation", lambda s: _phase_agreement(s, pitch), "they repeat at the perforation's pitch")
        )
    return found


def _phase_agreement(s: np.ndarray, pitch: float) -> np.ndarray:
    return resultant_length(TURN * s / pitch)


def _one_angle(s: np.ndarray, search: Search) -> np.ndarray:
    """Best mean resultant length over the search, (…,) for positions (…, n)."""
    best = np.zeros(s.shape[:-1])
    for radius, pitch in zip(search.radii, search.pitches):
        best = np.maximum(best, resultant_length(angle_at_length(s, radius, pitch)))
    return best


def _mates(s: np.ndarray, search: Search, tolerance: float = 0.30) -> np.ndarray:
    """Best share of marks that have another one turn away at the same angle (within 0.30 rad)."""
    best = np.zeros(s.shape[:-1])
    # A turn's length moves slowly with the reel's figures: every third radius and pitch is enough.
    for radius, pitch in zip(search.radii[::7], search.pitches[::7]):
        theta = angle_at_length(s, radius, pitch)
        apart = np.abs(theta[..., :, None] - theta[..., None, :])
        best = np.maximum(best, (np.abs(apart - TURN) < tolerance).any(axis=-1).mean(axis=-1))
    return best


def _null(n: int, strip: Strip, rng: np.random.Generator) -> np.ndarray:
    """Positions (trials, n) drawn evenly over the pictures."""
    frames = rng.integers(0, max(1, strip.frames), (TRIALS, n))
    return strip.first + frames * strip.pitch + rng.uniform(0, strip.picture, (TRIALS, n))


def _chance(statistic: Callable[[np.ndarray], np.ndarray], places: np.ndarray, null: np.ndarray) -> float:
    """Share of chance draws that do at least as well; never below 1/(trials + 1)."""
    seen = float(statistic(places[None, :])[0])
    by_chance = statistic(null)
    return float((1 + (by_chance >= seen - 1e-9).sum()) / (1 + len(by_chance)))


def _nothing(n: int, places: np.ndarray, strip: Strip, reel: ReelHint, null: np.ndarray) -> Pattern:
    chances = [_chance(statistic, places, null) for _, statistic, _ in _hypotheses(strip, reel)]
    smallest = min(chances)
    if smallest < 0.10 or n < 12:
        reason = f"no repeat stands out of chance (best p {smallest:.2f}), and {n} marks cannot rule one out"
        return Pattern("cannot say", n, smallest, reason, ON_REEL)
    return Pattern("scattered", n, smallest, f"no repeat stands out of chance (best p {smallest:.2f})", "")
