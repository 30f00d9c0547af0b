"""Where marks repeat: at one angle of the reel, on touching turns, at the perforations, in the frame, or nowhere.

For each repeat: how much likelier the places are with it than without, averaged over what is not known (`repeats`), against
draws at random within the pictures of the same frames, asked alike. Marks at one place of the frame, and a mark and its mate on the
next turn, may lie alike across the film as well: that counts for them where it is so. What lies along an edge does so for reasons
of its own (holes, liquid, hands), so draws at random lie along it as well. All repeats together tell whether there is any, at a
chance level that those draws give; then the one is named that is four times likelier than all others together. Frame-locked comes
before perforation, since a frame pitch is often a whole number of perforations; with one hole a frame they are the same. Under eight marks, or without a reel, the
answer is "cannot say": three marks fit anything.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wetside.figures.reading import Pattern
from wetside.figures.reel import ReelFit, ReelPattern
from wetside.laws.statistics.circular import log_mean
from wetside.stages.causes.signs.repeats import (
    AT_HOLES,
    IN_FRAME,
    Evidence,
    ReelHint,
    at_one_angle,
    at_one_phase,
    at_one_place,
    reel_fit,
    search_grid,
    with_mates,
)

__all__ = ["ReelHint", "Strip", "merged", "pattern"]
#: Marks that are needed, and places of their own among them: what lies together on the film is one event.
FEWEST, FEWEST_PLACES = 8, 6
#: Share of rolls of scattered marks that may be given a repeat: under the goal of 0.05, so that it holds at eight marks.
LEVEL = 0.04
#: Share of all repeats that one must hold to be named: one angle and touching turns are cousins, for its marks have mates too.
NAMED = 0.8
TRIALS = 400
#: How much likelier [natural log] perforations must be than the frame, and touching turns than one angle (whose marks have
#: mates too), to be named instead; where touching turns are ahead by less, neither is.
FINER = 1.1
#: How near to an edge of the picture, in parts of its height, marks are taken to lie there for the edge's sake (judged).
EDGE = 0.15
#: Natural log of no evidence at all.
NONE = -50.0
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


def pattern(
    positions: Sequence[float],
    strip: Strip,
    reel: ReelHint | None,
    rng: np.random.Generator,
    across: Sequence[float | None] | None = None,
) -> Pattern:
    """Which repeat the marks' places along the film [mm] and across it [0 to 1; None: not known] show, with its chance level.

    Needs at least eight marks and a reel; otherwise "cannot say", with the test on the dry reel.
    """
    places, across_ = merged(positions), merged_across(positions, across)
    n, told = len(positions), len(places)
    if n < FEWEST or told < FEWEST_PLACES:
        few = f"{n} {'mark' if n == 1 else 'marks'} at {told} {'place' if told == 1 else 'places'}; {FEWEST} marks at {FEWEST_PLACES} places are the fewest that can tell"
        return ReelPattern("cannot say", n, None, few, ON_REEL)
    if reel is None:
        help_ = "the reel's core radius and groove pitch; or " + ON_REEL
        return ReelPattern("cannot say", n, None, "no reel was given", help_)
    shares, p = repeats_shown(places, strip, reel, rng, across_)
    answer = max(shares, key=lambda name: shares[name])
    if p < LEVEL and shares[answer] > NAMED:
        return ReelPattern(answer, n, p, SAY[answer], "", _fit(answer, places, strip, reel))  # type: ignore[arg-type]
    if p < LEVEL:
        return ReelPattern("cannot say", n, p, f"they repeat (p {p:.2f}), but {_not_parted(shares)}", ON_REEL)
    if p < 0.10 or n < 12:
        reason = f"no repeat stands out of chance (best p {p:.2f}), and {n} marks cannot rule one out"
        return ReelPattern("cannot say", n, p, reason, ON_REEL)
    return ReelPattern("scattered", n, p, f"no repeat stands out of chance (best p {p:.2f})", "")


def _not_parted(shares: Mapping[str, float]) -> str:
    """The fewest repeats that hold what is needed for a name, best first."""
    best = sorted(shares, key=lambda name: -shares[name])
    held = next(i for i in range(1, len(best) + 1) if sum(shares[name] for name in best[:i]) > NAMED)
    return f"{' or '.join(best[:held])} explain them alike: these places cannot part them"


def repeats_shown(
    places: np.ndarray,
    strip: Strip,
    reel: ReelHint,
    rng: np.random.Generator,
    across: np.ndarray | None = None,
) -> tuple[dict[str, float], float]:
    """Each repeat's share among all of them, and the share of draws at random that repeat as well in any way."""
    everything = np.vstack([places, _at_random(len(places), strip, rng)])
    beside = None if across is None else np.vstack([across, _across_at_random(across, rng)])
    found = {name: _any_of(ways, everything, beside) for name, ways in _repeats(strip, reel)}
    for finer, plain in (("perforation", "frame"), ("touching turns", "one angle")):
        if finer in found:
            found[finer] = _finer(found[finer], found[plain], finer == "touching turns")
    table = np.stack(list(found.values()))
    any_ = log_mean(table.T)
    shares = np.exp(table[:, 0] - table[:, 0].max())
    named = dict(zip(found, (shares / shares.sum()).tolist()))
    return named, float((any_ >= any_[0] - 1e-9).mean())


def _any_of(ways: Sequence[Evidence], places: np.ndarray, across: np.ndarray | None) -> np.ndarray:
    """Evidence (1 + draws,) for a repeat that may show in several ways, each as likely."""
    found = [_against_random(way(places, across)) for way in (ways if across is not None else ways[:1])]
    return found[0] if len(found) == 1 else _against_random(log_mean(np.stack(found, axis=1)))


def _finer(finer: np.ndarray, plain: np.ndarray, cousins: bool) -> np.ndarray:
    """Evidence of a repeat beside the plainer one that explains much of the same: none where it is not clearly ahead.

    Of `cousins` a little ahead the plain one's own is given, so that neither is named. Draws are treated as the marks are.
    """
    ahead = finer - plain
    within = np.where(ahead > 0, plain, NONE) if cousins else np.full_like(plain, NONE)
    return np.where(ahead < FINER, within, finer)


def _against_random(logs: np.ndarray) -> np.ndarray:
    """Evidence (1 + draws,) such that draws at random, all but the first, have a mean ratio of 1."""
    return logs - log_mean(np.clip(logs[1:], NONE, 20.0))


def merged(positions: Sequence[float], within: float = 1.2) -> np.ndarray:
    """Places along the film; marks closer than 1.2 mm along the film are one event."""
    own = np.asarray(positions, float)
    return np.array([own[group].mean() for group in _events(own, within)])


def merged_across(
    positions: Sequence[float], across: Sequence[float | None] | None, within: float = 1.2
) -> np.ndarray | None:
    """Places across the film [0 to 1] of the same events; None where one is not known."""
    if across is None or any(place is None for place in across):
        return None
    own = np.asarray(across, float)
    return np.array([own[group].mean() for group in _events(np.asarray(positions, float), within)])


def _events(positions: np.ndarray, within: float) -> list[np.ndarray]:
    """Indices of the marks of each event, along the film."""
    order = np.argsort(positions, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(positions[order]) > within) + 1) if len(order) else []


def _from_core(places: np.ndarray, strip: Strip, reel: ReelHint) -> np.ndarray:
    """Places counted from the core's end; the tail beyond the last frame is taken as 40 mm."""
    return places if reel.core == "head" else strip.end + 40.0 - places


def _repeats(strip: Strip, reel: ReelHint) -> list[tuple[str, list[Evidence]]]:
    """For each repeat the ways in which it may show; the first asks nothing of places across."""
    search, shown = search_grid(reel), min(1.0, strip.picture / strip.pitch)
    found: list[tuple[str, list[Evidence]]] = [
        ("frame", [lambda s, _: at_one_phase(s - strip.first, strip.pitch, IN_FRAME, shown), lambda s, a: at_one_place(s, a, strip.pitch)]),
        ("one angle", [lambda s, _: at_one_angle(_from_core(s, strip, reel), search.every(2))]),
        ("touching turns", [lambda s, a: with_mates(_from_core(s, strip, reel), search.every(5), a)]),
    ]  # fmt: skip
    if strip.perforation and strip.accuracy <= 0.5 and strip.pitch > 1.5 * strip.perforation:
        pitch = strip.perforation
        found.append(("perforation", [lambda s, _: at_one_phase(s - strip.first, pitch, AT_HOLES)]))
    return found


def _fit(answer: str, places: np.ndarray, strip: Strip, reel: ReelHint) -> ReelFit | None:
    if answer != "one angle":
        return None
    return reel_fit(_from_core(places, strip, reel), search_grid(reel))


def _across_at_random(across: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Places across (trials, n) drawn evenly over the picture; those along an edge stay there, dealt out anew."""
    drawn = np.where(np.abs(across - 0.5) > 0.5 - EDGE, across, rng.uniform(0, 1, (TRIALS, len(across))))
    return rng.permuted(drawn, axis=1)


def _at_random(n: int, strip: Strip, rng: np.random.Generator) -> np.ndarray:
    """Positions (trials, n) drawn evenly over the pictures."""
    frames = rng.integers(0, max(1, strip.frames), (TRIALS, n))
    return strip.first + frames * strip.pitch + rng.uniform(0, strip.picture, (TRIALS, n))
