"""What a thermometer reads when it is compared with a better one, and what its readings mean after that.

A correction is the mean of (true − read), each comparison weighted by its spread; it is taken as the same over the
few degrees of a process (inference). The reference's own error does not average out, so the spread is that of the best comparison; a
thermometer drifts, so an old comparison is worth less.
"""

from __future__ import annotations

import math

from wetside.figures.figure import Figure

#: °C a year that a comparison loses in worth: a cheap probe drifts about 0.2 °C a year (common practice).
DRIFT_PER_YEAR = 0.2
#: A correction past this many °C is a broken thermometer, not a correction.
BROKEN = 5.0


def correction(comparisons: list[tuple[float, float, float, float]]) -> Figure | None:
    """°C to add to a reading, from (read, true, spread in °C, age in years); None without a comparison."""
    if not comparisons:
        return None
    spreads = [math.hypot(spread, DRIFT_PER_YEAR * max(0.0, age)) for _, _, spread, age in comparisons]
    weights = [1 / max(spread, 1e-3) ** 2 for spread in spreads]
    offset = sum(w * (true - read) for w, (read, true, _, _) in zip(weights, comparisons)) / sum(weights)
    return Figure(offset, min(spreads), "°C", "own comparison")
