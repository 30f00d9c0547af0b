"""How far a user's own layers part when development moves, fitted from own runs; the order of the layers is never assumed.

A run counts whose log tells of another development and whose contrast moved the way that says. Each layer's HD−LD over
the mean of the three is its share; a prior centred on "all alike" keeps few or small departures from saying much.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

#: How far layers may part from run to run, and before any run is known, as a factor e^± (inference).
FROM_RUN_TO_RUN, UNKNOWN = 0.15, 0.4
#: A layer's own scatter in one reading [D].
SCATTER = 0.015
#: Runs below which nothing is fitted: how far runs differ among themselves cannot be seen in one or two.
FEWEST = 3
#: Mean departure of HD−LD from which a run tells of its layers [D].
LEAST = 0.03
#: What in a log says that development was another, with the sign of what it does to contrast.
TOLD: Mapping[str, tuple[float, float]] = {
    "developer_temperature_off_c": (0.3, 1.0),
    "developer_time_off_s": (8.0, 1.0),
    "missed_agitation": (0.5, -1.0),
    "pushed": (0.5, 1.0),
}


@dataclass(frozen=True, slots=True)
class Layers:
    """Shares of r, g, b in a change of contrast (their mean is about 1), natural log; how far those of one more run may be
    off, the error of the fit, and the runs it rests on."""

    share: tuple[float, float, float]
    spread: tuple[float, float, float]
    error: float
    runs: int

    @property
    def order(self) -> str | None:
        """Which layer moves most and which least, where the fit's error allows it to be said."""
        ranked = sorted(zip(self.share, "rgb"), reverse=True)
        (most, first), (least, last) = ranked[0], ranked[-1]
        return f"{first} most, {last} least" if most - least > 2 * np.sqrt(2) * self.error else None

    def as_json(self) -> dict[str, Any]:
        """Shares as factors, the factor by which each may be off, the order where it can be said."""
        return {
            "share": {c: round(float(np.exp(v)), 3) for c, v in zip("rgb", self.share)},
            "within": {c: round(float(np.exp(v)), 3) for c, v in zip("rgb", self.spread)},
            "order": self.order, "runs": self.runs,
        }  # fmt: skip


def layers_fitted(runs: Sequence[Mapping[str, Any]]) -> Layers | None:
    """The shares from own runs, each {"departures": {"hd_ld": {r, g, b}}, "log": {…}}; None where fewer than three tell of any."""
    rows = [row for run in runs if (row := _parted(run)) is not None]
    if len(rows) < FEWEST:
        return None
    table = np.array(rows)
    mean = table.mean(axis=1)
    found = (table * mean[:, None]).sum(axis=0) / (mean**2).sum()
    variance = SCATTER**2 / (mean**2).sum() + FROM_RUN_TO_RUN**2 / len(rows)
    kept = UNKNOWN**2 / (UNKNOWN**2 + variance)
    share = kept * np.log(np.maximum(found, 0.2))
    error = float(np.sqrt(kept * variance))
    spread = float(np.hypot(error, FROM_RUN_TO_RUN))
    return Layers(tuple(float(v) for v in share), (spread,) * 3, error, len(rows))  # type: ignore[arg-type]


def _parted(run: Mapping[str, Any]) -> list[float] | None:
    """HD−LD by r, g, b of a run whose log says which way it moved, and which did."""
    values = dict(run.get("departures", {}).get("hd_ld") or {})
    row = [values.get(c) for c in "rgb"]
    way = _told(run.get("log") or {})
    if way == 0 or any(not isinstance(v, int | float) for v in row):
        return None
    moved = [float(v) for v in row if v is not None]
    return moved if way * float(np.mean(moved)) >= LEAST else None


def _told(log: Mapping[str, Any]) -> float:
    """+1 where a log tells of more development, −1 of less, 0 of neither or of both."""
    ways = {
        sign * np.sign(float(log[key]))
        for key, (least, sign) in TOLD.items()
        if isinstance(log.get(key), int | float) and abs(float(log[key])) >= least
    }
    return float(ways.pop()) if len(ways) == 1 else 0.0
