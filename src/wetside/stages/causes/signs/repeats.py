"""How much likelier places of marks are with a repeat than without: places (draws, n) [mm from the head] in, natural logs out.

Each is averaged over what is not known (direction, phase, scatter, core radius, groove pitch), those two weighed by how far
they are believed. What such a figure is worth is told by draws at random (`pattern`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wetside.figures.reel import ReelFit
from wetside.laws.reel.spiral import TURN, angle_at_length
from wetside.laws.statistics.circular import cluster_evidence, clustering, log_mean, von_mises_density

#: Places along the film (draws, n) [mm] and across it (draws, n; 0 to 1, None where not known) in, natural logs (draws,) out.
Evidence = Callable[[np.ndarray, np.ndarray | None], np.ndarray]
#: How far marks of one cause scatter: in the frame and along the perforations in parts of the pitch, on the reel in rad.
IN_FRAME, AT_HOLES, ON_REEL = (0.02, 0.04, 0.07), (0.05, 0.08, 0.12), (0.15, 0.30, 0.45)
#: Share of a cause's own marks among all, the rest being strays.
OWN = (0.6, 0.8)
#: How far a mark and its mate on the next turn may miss one whole turn [rad]; share of strays among such marks.
MATE, STRAY = 0.13, 0.2
#: How far across the film marks at one place of the frame scatter, and a mark and its mate miss each other, in parts of the
#: picture; places that are tried for a cluster.
ACROSS, CENTRES = 0.06, 24


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

    @property
    def weights(self) -> np.ndarray:
        """How far each is believed; they sum to 1."""
        shares = np.exp(self.belief - self.belief.max())
        return shares / shares.sum()

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


def at_one_phase(
    places: np.ndarray, pitch: float, scatter: tuple[float, ...], span: float = 1.0
) -> np.ndarray:
    """For a cluster in the phase along a pitch [mm], of which marks can lie in a span only (a picture within its frame)."""
    deviations = tuple(TURN * part for part in scatter)
    return cluster_evidence(TURN * places / pitch, deviations, OWN, 96, span)


def at_one_place(places: np.ndarray, across: np.ndarray | None, pitch: float) -> np.ndarray:
    """For a cluster at one place of the frame along its pitch [mm] and across it, tried at the marks' own places."""
    if across is None:
        return np.zeros(len(places))
    angle = TURN * places / pitch
    centres = np.linspace(0, places.shape[1] - 1, min(CENTRES, places.shape[1])).round().astype(int)
    beside = near_across(across[:, centres, None] - across[:, None, :])
    off, found = angle[:, centres, None] - angle[:, None, :], []
    for part in IN_FRAME:
        near = TURN * von_mises_density(off, 1 / (TURN * part) ** 2) * beside
        found += [np.log(1 - share + share * near).sum(axis=2) for share in OWN]
    return log_mean(np.concatenate(found, axis=1))


def near_across(off: np.ndarray) -> np.ndarray:
    """How much likelier places across the film so far from each other [parts of the picture] are for one place than for any."""
    return np.exp(-0.5 * (off / ACROSS) ** 2) / (ACROSS * math.sqrt(TURN))


def at_one_angle(from_core: np.ndarray, search: Search) -> np.ndarray:
    """For a cluster in the angle on the reel."""
    found = [
        cluster_evidence(angle_at_length(from_core, radius, pitch), ON_REEL, (0.75,))
        for radius, pitch in zip(search.radii, search.pitches)
    ]
    return log_mean(np.stack(found, axis=1), search.weights)


def with_mates(from_core: np.ndarray, search: Search, across: np.ndarray | None = None) -> np.ndarray:
    """For marks that come in pairs, one turn apart at their angle; half of the pairs are expected at one place across.

    That counts as far as mates lie nearer to each other than marks of this film do at all.
    """
    found = []
    beside = 1.0 if across is None else 0.5 + 0.5 * _nearer(across)
    for radius, pitch in zip(search.radii, search.pitches):
        theta = angle_at_length(from_core, radius, pitch)
        off = (theta[:, :, None] - theta[:, None, :] - TURN) / MATE
        near = np.exp(-0.5 * np.minimum(off * off, 50.0)) / (MATE * math.sqrt(TURN))
        paired = near * float(np.ptp(theta)) * (1 - STRAY) / (2 * theta.shape[1] * STRAY**2)
        found.append(_pairings((paired + paired.transpose(0, 2, 1)) * beside))
    return log_mean(np.stack(found, axis=1), search.weights)


def _nearer(across: np.ndarray) -> np.ndarray:
    """How much likelier each pair (draws, n, n) is for one place across than any pair of its draw."""
    near = near_across(across[:, :, None] - across[:, None, :])
    n = across.shape[1]
    others = (near.sum(axis=(1, 2)) - n * near_across(np.zeros(1))) / max(1, n * (n - 1))
    return np.asarray(near / np.maximum(1, others)[:, None, None])


def _pairings(paired: np.ndarray) -> np.ndarray:
    """Natural log of the sum over all ways of pairing marks (draws, n, n: what a pair is worth against two strays).

    By the mean field: each mark is free with a chance that its possible mates leave it; exact in order only, which is all
    that is asked of it, since draws at random are summed alike.
    """
    free = 1 / (1 + paired.sum(axis=2))
    for _ in range(12):
        free = 0.5 * free + 0.5 / (1 + (paired @ free[:, :, None])[..., 0])
    met = (paired @ free[:, :, None])[..., 0] * free
    return -np.log(free).sum(axis=1) - 0.5 * met.sum(axis=1)


def reel_fit(from_core: np.ndarray, search: Search) -> ReelFit:
    """Core radius, pitch [mm] and angle [rad] at which places (n,) gather best."""
    found = []
    for radius, pitch, belief in zip(search.radii, search.pitches, search.belief):
        ratio, angle = clustering(angle_at_length(from_core, radius, pitch)[None], ON_REEL[1])
        found.append((float(ratio[0]) + float(belief), float(radius), float(pitch), float(angle[0])))
    _, core, groove, at = max(found)
    return ReelFit(core, groove, at)
