"""What a strip's departures say of each fault of the whole roll: chances averaged over wide priors of size.

A fault's departures are its signs times an overall size, a factor for each density, one for each layer and one for each of
the nine. Size and densities are laid out over their priors; the rest is close to normal given those, and so is averaged by
a covariance that grows with the departure. Two faults add, and so do their covariances.
"""

from __future__ import annotations

from functools import cache, lru_cache

import numpy as np
from scipy.special import ndtri

from wetside.laws.sensitometry.faults import Fault
from wetside.stages.causes.ranking.evidence import DENSITIES, Evidence
from wetside.stages.causes.ranking.experiments import DEVELOPER
from wetside.stages.causes.ranking.layers import Layers

#: How many sizes are laid out over the priors.
SIZES = 320
SIZE, SIZE_SPREAD, DENSITY_SPREAD = 0.11, 0.75, 0.55
#: A run's own scatter [D]: what all layers do alike (time, temperature), and what each does for itself.
ALIKE_SCATTER, LAYER_SCATTER = 0.014, 0.011
#: How far the layers part, as a factor e^±; exposure slides all of them along their curves, silver is neutral (TG2044-1).
LAYERS_PART = 0.4
LAYERS_ALIKE = {"underexposed": 0.2, "overexposed": 0.2, "weak bleach: retained silver": 0.2}
#: How far each of the nine departs by itself, as a factor e^±.
EACH_PARTS = 0.2
#: Chance of a film that no size of a fault explains: what the priors leave out.
ODD = 1e-12


def likelihood(fault: Fault | None, evidence: Evidence) -> float:
    """Chance density of the measured departures under a fault (None: clean), averaged over its wide priors."""
    return _chance([] if fault is None else [fault], evidence)[0]


def likelihood_of_both(first: Fault, second: Fault, evidence: Evidence) -> float:
    """The same under two faults at once, whose departures add (the plots themselves do not add exactly)."""
    return _chance([first, second], evidence)[0]


def unexplained(fault: Fault, evidence: Evidence) -> float:
    """How far the measured departures lie from the nearest size of a fault: squared, in its own spreads (χ²)."""
    return _chance([fault], evidence)[1]


def _chance(faults: list[Fault], evidence: Evidence) -> tuple[float, float]:
    """Chance density against that of a perfect clean strip, and the smallest χ²."""
    if not evidence.measured:
        return 1.0, 0.0
    seen, known = _vector(evidence)
    away, narrowed, narrower = _sizes(
        tuple(faults), evidence.layers, evidence.spread, evidence.aim_of, known.tobytes()
    )
    off = np.einsum("dij,dj->di", narrowed, seen[known] - away)
    square = np.einsum("di,di->d", off, off)
    return float(np.exp(narrower - 0.5 * square).mean() + ODD), float(square.min())


@lru_cache(maxsize=96)
def _sizes(
    faults: tuple[Fault, ...], layers: Layers | None, spread: float, aim_of: int | None, known: bytes
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """For each size of all faults together: mean (n,) [D], what brings departures to unit scatter (n, n), and the natural log
    of how much thinner than a clean strip's the chance is spread. Kept, for they rest on nothing that was measured."""
    own = np.frombuffer(known, bool)
    clean = scatter_of_a_run(spread, aim_of)[np.ix_(own, own)]
    mean, wide = np.zeros((1, len(clean))), clean[None]
    for turn, fault in enumerate(faults):
        away, scatter = (np.roll(part, turn * SIZES // 3, axis=0) for part in _laid_out(fault, layers, known))
        mean, wide = mean + away, wide + scatter
    root = np.linalg.cholesky(wide)
    diagonal = np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)
    return mean, np.linalg.inv(root), 0.5 * np.linalg.slogdet(clean)[1] - diagonal


def scatter_of_a_run(spread: float, aim_of: int | None = None) -> np.ndarray:
    """Covariance (9, 9) [D²] of the departures of runs that nothing ails: layers move alike, and each a little by itself.

    `aim_of`: how many strips the aim is the mean of; they scatter as a run does. None: the aim is known.
    """
    alike = np.kron(np.eye(3), np.full((3, 3), ALIKE_SCATTER**2))
    runs = alike + np.eye(9) * LAYER_SCATTER**2
    return runs * (1 + 1 / aim_of if aim_of else 1.0) + np.eye(9) * spread**2


@lru_cache(maxsize=128)
def _laid_out(fault: Fault, layers: Layers | None, known: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Mean departures (sizes, n) [D] and covariances (sizes, n, n) [D²] of a fault, of those of the nine that are known."""
    signs = np.array([fault.dmin, fault.ld, fault.hd_ld])
    laid = _normals()
    size = SIZE * np.exp(SIZE_SPREAD * laid[:, :1, None])
    share, part = _layers(fault, layers)
    mean = (signs * size * np.exp(DENSITY_SPREAD * laid[:, 1:, None]) * np.exp(share)).reshape(-1, 9)
    same_layer = np.kron(np.ones((3, 3)), np.diag(part**2)) + EACH_PARTS**2 * np.eye(9)
    own = np.frombuffer(known, bool)
    wide = mean[:, :, None] * mean[:, None, :] * same_layer
    return mean[:, own], wide[:, own][:, :, own]


@cache
def _normals() -> np.ndarray:
    """(sizes, 4) points laid evenly over four normal variables: an additive sequence by powers of the root of x⁵ = x + 1."""
    root = 1.1673039782614187
    steps = root ** -np.arange(1.0, 5.0)
    return np.asarray(ndtri((0.5 + np.outer(np.arange(1, SIZES + 1), steps)) % 1.0))


def _layers(fault: Fault, layers: Layers | None) -> tuple[np.ndarray, np.ndarray]:
    """Logarithms of the layers' shares of a fault, and how far they may be off; as in own runs where development moved."""
    if layers is not None and fault.name in DEVELOPER:
        return np.array(layers.share), np.array(layers.spread)
    return np.zeros(3), np.full(3, LAYERS_ALIKE.get(fault.name, LAYERS_PART))


def _vector(evidence: Evidence) -> tuple[np.ndarray, np.ndarray]:
    values = [v for name in DENSITIES for v in evidence.departures.get(name, (None, None, None))]
    return np.array([0.0 if v is None else v for v in values]), np.array([v is not None for v in values])


def limit_of(evidence: Evidence) -> float:
    """Two standard deviations of a run's own scatter, the aim's and the reading's [D]: a smaller departure says nothing."""
    return 2 * float(np.sqrt(scatter_of_a_run(evidence.spread, evidence.aim_of)[0, 0]))
