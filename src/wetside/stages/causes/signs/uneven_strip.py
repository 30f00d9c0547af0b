"""A control strip that is thin along one edge of the film, beside those of good runs, as a tank filled too low leaves it.

Which question: is this run's strip less developed at one edge than the strips that set the aim? A strip is even by its making,
where pictures are not, so one tells what five pictures hide. What the exposure, the scanner or the light do across it they do to
the strips of the good runs too, and it is taken off with them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

#: Least thinning [natural log], how many errors it must stand out, how far the layers may part (of its size), what the other
#: edge may hold of it; no error is less than CALM; fewest strips of good runs.
LEAST, CLEAR, PART, OTHER, CALM, FEWEST = 0.035, 4.0, 0.6, 0.5, 0.005, 2


@dataclass(frozen=True)
class ThinEdge:
    """One edge of a strip thinner than its far part: by `size` (3,) [natural log, negative], its error, the edge first or last,
    and by what (3,) the strip's inner parts, where its densities are read, are thinner than the film away from that edge [natural log, negative]."""

    size: np.ndarray
    error: float
    last: bool
    mean: np.ndarray


def thin_edge(own: np.ndarray, good: Sequence[np.ndarray]) -> ThinEdge | None:
    """The thin edge of a strip's profile (parts, 3) beside those of good runs; None where it has none, or few good ones are known."""
    if len(good) < FEWEST or any(one.shape != own.shape for one in good):
        return None
    logs, known = np.log(own), np.log(np.stack(good))
    away, strays = logs - known.mean(axis=0), known - known.mean(axis=0)
    sizes = [_size(away[::way]) for way in (1, -1)]
    first = int(np.argmin([size.mean() for size in sizes]))
    size, other = sizes[first], sizes[1 - first]
    of_good = [_size(one[:: 1 - 2 * first]).mean() for one in strays]
    error = max(CALM, float(np.sqrt(np.square(of_good).sum() / (len(good) - 1) * (1 + 1 / len(good)))))
    alike = (size < 0).all() and np.ptp(size) < PART * abs(size.mean())
    if not alike or -size.mean() < max(LEAST, CLEAR * error) or other.mean() < OTHER * size.mean():
        return None
    far = np.median(away[:: 1 - 2 * first][-3:], axis=0)
    return ThinEdge(size, error, bool(first), np.log(np.exp(away[1:-1]).mean(axis=0)) - far)


def _size(away: np.ndarray) -> np.ndarray:
    """How much denser (3,) the first part is than the three at the far side."""
    return np.asarray(away[0] - np.median(away[-3:], axis=0))
