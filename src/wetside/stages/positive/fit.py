"""From densities above base to log exposure: what the roll itself tells when nothing else is known.

The fitted door assumes one slope a channel and the toe of a generic negative. Its slopes and its neutral come from greys
that were named, or from what the roll's pictures share. It says so. White and black are placed by the roll, never by the frame, so frames of one roll
stay consistent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wetside.figures.curves import Curves
from wetside.figures.finding import CannotSay
from wetside.stages.positive.neutral import THIN, neutral_offsets, slopes_by_edges

#: Average gradients of current camera stocks, r g b; second-hand from published curves, as a prior.
GRADIENTS = np.array([0.47, 0.55, 0.53])
TOE = 4.0
MIDDLE = np.log10(0.2)
TOP = 4.0
POINTS = 4096
STOP = 0.30103
#: The three ways to neutral lie this many stops apart before it is said.
APART = 0.7
#: Two greys nearer than this [D] tell no slope.
APART_GREYS = 0.15


@dataclass(frozen=True)
class ToneFit:
    """Tables (POINTS, 3) of log10 scene exposure over density above base 0 … TOP, and how they were come by."""

    table: np.ndarray
    gradients: tuple[float, float, float]
    assumed: bool
    say: str


def log_exposure(above: np.ndarray, gradient: np.ndarray, toe: float = TOE) -> np.ndarray:
    """Log exposure from density above base: the inverse of gradient · ln(1 + e^(toe·x)) / toe, steep in the toe."""
    scaled = np.maximum(np.asarray(above, float) / gradient, 2e-3)
    return np.log(np.expm1(np.minimum(toe * scaled, 50.0))) / toe + np.where(
        toe * scaled > 50, scaled - 50 / toe, 0.0
    )


def fitted_tone(above: np.ndarray | Sequence[np.ndarray]) -> ToneFit:
    """One gradient a channel and one balance for the roll from its pictures' densities above base [D].

    above       pictures (h, w, 3), or (n, 3) without a place
    """
    given = [above] if isinstance(above, np.ndarray) else above
    pieces = [np.maximum(one if one.ndim == 3 else one[:, None], 0.0).astype(np.float64) for one in given]
    gradients = fitted_gradients(pieces)
    there = [(piece > THIN).all(axis=2) for piece in pieces]
    exposures = [log_exposure(piece, gradients) for piece in pieces]
    offsets, apart = neutral_offsets(exposures, there)
    level = float(np.median(np.concatenate([x[..., 1].ravel() for x in exposures])))
    table = log_exposure(_densities()[:, None], gradients) - offsets - level + MIDDLE
    say = (
        "assumed: one slope a channel, half-way between what the pictures show and what stocks have, and neutral where the "
        "brightest places, the commonest colour and the strongest edges agree"
    )
    stops = apart / STOP
    if stops > APART:
        say += f"; they lie {stops:.1f} stops apart: name two greys (--grey) or expose a grey scale"
    return ToneFit(table, tuple(float(g) for g in gradients), True, say)  # type: ignore[arg-type]


def fitted_gradients(pieces: Sequence[np.ndarray]) -> np.ndarray:
    """Gradients whose change from place to place is alike in the layers, half-way to the prior."""
    steps = slopes_by_edges(pieces)
    if steps is None:
        return GRADIENTS.copy()
    measured = GRADIENTS[1] * steps / steps[1]
    found: np.ndarray = np.sqrt(np.clip(measured / GRADIENTS, 0.6, 1.6)) * GRADIENTS
    return found


def tone_of_greys(greys: np.ndarray, above: np.ndarray | Sequence[np.ndarray]) -> ToneFit | CannotSay:
    """One gradient and one offset a channel from two greys or more; only the level is placed by the roll.

    greys       densities above base (n, 3) of places that were neutral and of different brightness [D]
    above       as in `fitted_tone`
    """
    if len(greys) < 2:
        return CannotSay("two greys or more are needed, one dark and one light", "name another")
    if float(np.ptp(greys[:, 1])) < APART_GREYS:
        return CannotSay(
            f"the greys lie {float(np.ptp(greys[:, 1])):.2f} D apart, too near to tell a slope (at least {APART_GREYS} D)",
            "a lighter or a darker one",
        )
    if (greys < 0.02).any():
        return CannotSay(
            "a grey is as thin as bare film in one layer, so nothing can be read from it", "a lighter one"
        )
    green = log_exposure(greys[:, 1], GRADIENTS[1])
    gradients = np.array([_gradient(greys[:, i], green, GRADIENTS[i]) for i in range(3)])
    gradients[1] = GRADIENTS[1]
    x = log_exposure(greys, gradients)
    offsets = (x - x[:, 1:2]).mean(axis=0)
    apart = float(np.abs(x - x[:, 1:2] - offsets).max())
    flat = np.concatenate(
        [one.reshape(-1, 3) for one in ([above] if isinstance(above, np.ndarray) else above)]
    )
    level = float(np.median(log_exposure(np.maximum(flat[:, 1], 0), GRADIENTS[1])))
    table = log_exposure(_densities()[:, None], gradients) - offsets - level + MIDDLE
    say = f"one slope and one balance a channel from {len(greys)} greys, within {apart / STOP:.2f} stop of neutral; green's slope and the toe are assumed"
    return ToneFit(table, tuple(float(g) for g in gradients), True, say)  # type: ignore[arg-type]


def _gradient(density: np.ndarray, green: np.ndarray, usual: float) -> float:
    """The gradient at which a layer's greys lie as far apart in exposure as green's, 0.5 to 2 times the usual one."""
    tried = usual * np.geomspace(0.5, 2.0, 281)
    x = np.stack([log_exposure(density, np.array(g)) for g in tried])
    off = x - green
    return float(tried[int(off.std(axis=1).argmin())])


def own_tone(curves: Curves, above: np.ndarray) -> ToneFit:
    """Tables from the stock's own curves; only the level is placed by the roll."""
    d = _densities()
    columns = [_inverted(np.array(curves.log_h[c]), np.array(curves.density[c]), d) for c in "rgb"]
    table = np.stack(columns, axis=1)
    x = np.stack([np.interp(np.maximum(above[:, i], 0), d, table[:, i]) for i in range(3)], axis=1)
    level = float(np.median(x[:, 1]))
    slopes = tuple(float((c[600] - c[300]) and (d[600] - d[300]) / (c[600] - c[300])) for c in columns)
    return ToneFit(table - level + MIDDLE, slopes, False, f"curves of the stock: {curves.source}")  # type: ignore[arg-type]


def neutral_trim(
    above: np.ndarray, table: np.ndarray | None, matrix: np.ndarray | None = None
) -> tuple[float, float, float]:
    """Density to add r g b [D] so that a spot `above` base (3,) [D] prints grey; green stays. `table` as in `ToneFit`.

    Without a table (the exchange door) equal densities print grey: the rows of the exchange's matrix sum to one. With a
    `matrix` (3, 3) from camera density to the table's, the greys are taken back through it.
    """
    greys = _densities()[:, None] * np.ones(3)
    if table is not None:
        greys = np.stack([np.interp(table[:, 1], table[:, i], greys[:, 0]) for i in range(3)], axis=1)
    if matrix is not None:
        greys = greys @ np.linalg.inv(matrix).T
    wanted = np.array([np.interp(above[1], greys[:, 1], greys[:, i]) for i in range(3)])
    r, g, b = (float(v) for v in wanted - above)
    return (r, g, b)


def _inverted(log_h: np.ndarray, density: np.ndarray, at: np.ndarray) -> np.ndarray:
    """log H at densities, by the curve where it rises and straight on at both ends."""
    order = np.argsort(log_h)
    h, d = log_h[order], np.maximum.accumulate(density[order])
    keep = np.r_[True, np.diff(d) > 1e-5]
    h, d = h[keep], d[keep]
    inside = np.interp(at, d, h)
    top = (h[-1] - h[-3]) / max(d[-1] - d[-3], 1e-4) if len(d) > 3 else 2.0
    toe = (h[2] - h[0]) / max(d[2] - d[0], 1e-4) if len(d) > 3 else 2.0
    return np.where(
        at > d[-1], h[-1] + top * (at - d[-1]), np.where(at < d[0], h[0] - toe * (d[0] - at), inside)
    )


def _densities() -> np.ndarray:
    return np.linspace(0.0, TOP, POINTS)
