"""Statistics of where marks repeat: each takes places (draws, n) [mm from the head] and says how well they repeat.

One number a draw, larger where they repeat better; what it is worth is told by draws at random (`pattern`). Each searches
over what is not known: direction, phase, core radius and groove pitch, those two weighed by how far they are believed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wetside.figures.reel import ReelFit
from wetside.laws.reel.spiral import TURN, angle_at_length
from wetside.laws.statistics.circular import clustering

Statistic = Callable[[np.ndarray], np.ndarray]
#: How far marks of one cause scatter: in the frame and along the perforations in parts of the pitch, on the reel in rad.
IN_FRAME, AT_HOLES, ON_REEL = (0.03, 0.07), (0.07, 0.11), (0.26, 0.44)
MATE = 0.14


@dataclass(frozen=True, slots=True)
class ReelHint:
    """What is known of the reel [mm]: core radius and its spread, groove pitch, and which end lay at the core."""

    core_radius: float
    pitch: float
    spread: float = 1.0
    core: str = "head"


@dataclass(frozen=True)
class Search:
    """All core radii and groove pitches tried [mm], flat, and how far each is believed (natural log)."""

    radii: np.ndarray
    pitches: np.ndarray
    belief: np.ndarray

    def every(self, step: int) -> Search:
        """A coarser search."""
        return Search(self.radii[::step], self.pitches[::step], self.belief[::step])


def search_grid(hint: ReelHint) -> Search:
    """Core radii within two and a half spreads and pitches within 4 %; more radius when the length beyond the core is unknown."""
    reach, extra = 2.5 * hint.spread, 2.5 if hint.core == "tail" else 0.0
    radii = np.arange(max(3.0, hint.core_radius - reach), hint.core_radius + reach + extra, 0.25)
    pitches = hint.pitch * np.linspace(0.96, 1.04, 7)
    r, p = (one.ravel() for one in np.meshgrid(radii, pitches, indexing="ij"))
    over = np.maximum(np.abs(r - hint.core_radius - extra / 2) - extra / 2, 0) / max(hint.spread, 0.2)
    return Search(r, p, -0.5 * over**2 - 0.5 * ((p / hint.pitch - 1) / 0.02) ** 2)


def at_one_phase(places: np.ndarray, pitch: float, scatter: tuple[float, ...]) -> np.ndarray:
    """Best of a cluster in the phase along a pitch [mm]."""
    phases = TURN * places / pitch
    return np.max([clustering(phases, TURN * part)[0] for part in scatter], axis=0)


def at_one_angle(from_core: np.ndarray, search: Search) -> np.ndarray:
    """Best of a cluster in the angle on the reel, over the search."""
    best = np.full(len(from_core), -np.inf)
    for radius, pitch, belief in zip(search.radii, search.pitches, search.belief):
        angles = angle_at_length(from_core, radius, pitch)
        for deviation in ON_REEL:
            best = np.maximum(best, clustering(angles, deviation)[0] + belief)
    return best


def reel_fit(from_core: np.ndarray, search: Search) -> ReelFit:
    """Core radius, pitch [mm] and angle [rad] at which places (n,) gather best."""
    found = []
    for radius, pitch, belief in zip(search.radii, search.pitches, search.belief):
        ratio, angle = clustering(angle_at_length(from_core, radius, pitch)[None], ON_REEL[1])
        found.append((float(ratio[0]) + float(belief), float(radius), float(pitch), float(angle[0])))
    _, core, groove, at = max(found)
    return ReelFit(core, groove, at)


def with_mates(from_core: np.ndarray, search: Search) -> np.ndarray:
    """Best sum over marks of how near each has another one turn away, over the search."""
    best = np.full(len(from_core), -np.inf)
    for radius, pitch, belief in zip(search.radii, search.pitches, search.belief):
        theta = angle_at_length(from_core, radius, pitch)
        off = (np.abs(theta[:, :, None] - theta[:, None, :]) - TURN) / MATE
        mates = np.exp(-0.5 * np.minimum(off * off, 40.0)).max(axis=2).sum(axis=1)
        best = np.maximum(best, mates + 0.3 * belief)
    return best
