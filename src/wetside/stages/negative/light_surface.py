"""A smooth surface through what the light lacks over the rebate, in density or in light, whichever leaves less over.

Optics give a fall-off that is nearly a parabola, in density where it is mild; where it is strong the two forms part.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np

Form = Literal["density", "light"]
FORMS: tuple[Form, ...] = ("density", "light")


@dataclass(frozen=True, slots=True)
class Surface:
    """`weights` (terms, layers) over terms of u, v in half widths from the middle: 1, u, v, u² + v², u² − v², u v.

    The terms give density [D], or the light's share whose density is meant. `error` [D] is what is left over (rms).
    `rival` is the same in the other form: where the two part, the rebate does not tell the light.
    """

    weights: np.ndarray
    form: Form
    error: float
    rival: Surface | None = None

    def at(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        """Density (n, layers) [D] that the light lacks at places."""
        level = terms(u, v, len(self.weights)) @ self.weights
        return level if self.form == "density" else -np.log10(np.maximum(level, 0.02))

    def over(self, height: int, width: int) -> np.ndarray:
        """The mean layer's density (height, width) [D] over a picture: so smooth that every fourth pixel is reckoned."""
        rows, columns = max(2, height // 4), max(2, width // 4)
        half = columns / 2
        u = (np.arange(columns) + 0.5 - half) / half
        v = ((np.arange(rows) + 0.5) / rows - 0.5) * height / (width / 2)
        grid = self.at(np.tile(u, rows), np.repeat(v, columns)).mean(axis=1).reshape(rows, columns)
        return cv2.resize(grid.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)


def terms(u: np.ndarray, v: np.ndarray, count: int) -> np.ndarray:
    """The terms (n, count) at places."""
    return np.stack([np.ones_like(u), u, v, u * u + v * v, u * u - v * v, u * v][:count], axis=1)


def both_sides(u: np.ndarray, v: np.ndarray) -> bool:
    """True when rebate is seen beside the picture as well as above and below it: only then do u² and v² come apart."""
    middle = np.abs(v) < 0.5 * np.abs(v).max()
    return bool((middle & (u > 0)).sum() >= 4 and (middle & (u < 0)).sum() >= 4)


def surface_through(u: np.ndarray, v: np.ndarray, values: np.ndarray, least: float = 0.002) -> Surface:
    """The surface through values (n, layers) [D], outliers left out over three times the usual distance or `least` [D]."""
    count = 6 if both_sides(u, v) else 4
    best, rival = sorted(
        (_fitted(u, v, values, count, form, least) for form in FORMS), key=lambda one: one.error
    )
    return replace(best, rival=rival)


def _fitted(
    u: np.ndarray, v: np.ndarray, values: np.ndarray, count: int, form: Form, least: float
) -> Surface:
    """Least squares, outlying values (edge print, scratches, holes' rims) left out, three times over."""
    design, keep = terms(u, v, count), np.ones(len(u), bool)
    wanted = values if form == "density" else np.power(10.0, -values)
    found = Surface(np.zeros((count, values.shape[1])), form, np.inf)
    for _ in range(4):
        weights = np.linalg.lstsq(design[keep], wanted[keep], rcond=None)[0]
        left = np.abs(values - Surface(weights, form, 0).at(u, v)).max(axis=1)
        found = Surface(weights, form, float(np.sqrt((left[keep] ** 2).mean())))
        keep = left <= 3 * max(least, 1.4826 * float(np.median(left)))
    return found


def fitted_surface(level: np.ndarray, where: np.ndarray) -> Surface | None:
    """The surface through a picture (h, w, 3) [D] at chosen pixels, 0 at their middle; None when they lie on one side."""
    height, width = level.shape[:2]
    rows, columns = np.nonzero(where)
    u = (columns + 0.5 - width / 2) / (width / 2)
    v = (rows + 0.5 - height / 2) / (width / 2)
    if len(u) < 60 or np.ptp(u) < 0.8 or np.ptp(v) < 0.5 * np.ptp(u) * height / width:
        return None
    thin = max(1, len(u) // 4000)
    values = level[rows, columns][::thin]
    return surface_through(u[::thin], v[::thin], values - np.median(values, axis=0), 0.004)
