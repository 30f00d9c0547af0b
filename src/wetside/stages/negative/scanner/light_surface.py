"""A smooth surface through what the light lacks over the rebate, and how sure it is where no rebate lies.

Optics give a fall-off whose light, to some power, is a parabola: 1 for a plain parabola, 0 (its logarithm) for a mild
fall-off of any kind, −½ for the fourth power of the cosine (the law of natural vignetting: light = 1 / (1 + r²)²).
A fourth-order term stands beside them for what no power fits. The likeliest form is taken; what the others say, each by how well it fits, is its spread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np

#: Powers of the light that are tried as a parabola.
POWERS = (1.0, 0.5, 0.0, -0.5, -1.0)
#: Places of the rebate err together: no more than so many count as independent.
INDEPENDENT = 24
#: A fit is never held to be better than this [D]: what half precision and the base's grain leave of a median.
LEAST_ERROR = 2e-4


@dataclass(frozen=True, slots=True)
class Surface:
    """`weights` (terms, layers) over terms of u, v in half widths from the middle: 1, u, v, u² + v², u² − v², u v.

    The terms give density [D] for a `power` of 0, else the light's share to that power. `error` [D] is what is left
    over (rms), `doubt` (terms, terms) the covariance of a layer's weights, and `share` how likely this power is among
    its `rivals`.
    """

    weights: np.ndarray
    power: float
    error: float
    doubt: np.ndarray | None = None
    share: float = 1.0
    rivals: tuple[Surface, ...] = ()

    def at(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        """Density (n, layers) [D] that the light lacks at places."""
        level = terms(u, v, len(self.weights)) @ self.weights
        return level if self.power == 0 else -np.log10(np.maximum(level, 0.02)) / self.power

    def spread(self, u: np.ndarray, v: np.ndarray) -> np.ndarray:
        """One standard deviation (n, layers) [D] of that: the fit's own error, and how far the rivals part from it."""
        here, design = self.at(u, v), terms(u, v, len(self.weights))
        doubt = np.zeros((len(self.weights),) * 2) if self.doubt is None else self.doubt
        own = np.einsum("ni,ij,nj->n", design, doubt, design)[:, None]
        if self.power != 0:
            own = own / (self.power * np.log(10) * np.maximum(design @ self.weights, 0.02)) ** 2
        parted = [one.share * (one.at(u, v) - here) ** 2 for one in self.rivals]
        return np.sqrt(sum(parted, own + np.zeros_like(here)))

    def as_json(self) -> dict[str, object]:
        """As it is kept with a reading; `surface_from` reads it back."""
        return {
            "power": self.power, "weights": self.weights.tolist(), "error": self.error, "share": self.share,
            "doubt": None if self.doubt is None else self.doubt.tolist(),
            "rivals": [one.as_json() for one in self.rivals if one.share > 1e-4],
        }  # fmt: skip

    def over(self, height: int, width: int) -> np.ndarray:
        """The mean layer's density (height, width) [D] over a picture: so smooth that every fourth pixel is reckoned."""
        rows, columns = max(2, height // 4), max(2, width // 4)
        half = columns / 2
        u = (np.arange(columns) + 0.5 - half) / half
        v = ((np.arange(rows) + 0.5) / rows - 0.5) * height / (width / 2)
        grid = self.at(np.tile(u, rows), np.repeat(v, columns)).mean(axis=1).reshape(rows, columns)
        return cv2.resize(grid.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR)


def surface_from(given: Mapping[str, Any]) -> Surface:
    """A surface from its JSON."""
    doubt = given.get("doubt")
    return Surface(
        np.array(given["weights"], float), float(given["power"]), float(given["error"]),
        None if doubt is None else np.array(doubt, float), float(given["share"]),
        tuple(surface_from(one) for one in given.get("rivals", ())),
    )  # fmt: skip


def terms(u: np.ndarray, v: np.ndarray, count: int) -> np.ndarray:
    """The terms (n, count) at places; an odd count ends with (u² + v²)²."""
    r2 = u * u + v * v
    plain = [np.ones_like(u), u, v, r2, u * u - v * v, u * v][: count - count % 2]
    return np.stack([*plain, r2 * r2] if count % 2 else plain, axis=1)


def both_sides(u: np.ndarray, v: np.ndarray) -> bool:
    """True when rebate is seen beside the picture as well as above and below it: only then do u² and v² come apart."""
    middle = np.abs(v) < 0.5 * np.abs(v).max()
    return bool((middle & (u > 0)).sum() >= 4 and (middle & (u < 0)).sum() >= 4)


def surface_through(u: np.ndarray, v: np.ndarray, values: np.ndarray, least: float = 0.002) -> Surface:
    """The surface through values (n, layers) [D], outliers left out over three times the usual distance or `least` [D]."""
    count = 6 if both_sides(u, v) else 4
    found = [_fitted(u, v, values, count, power, least) for power in POWERS]
    # A term of the fourth order fits what no power does; it must earn its freedom (Schwarz's criterion).
    found.append(_fitted(u, v, values, count + 1, 0.0, least))
    # Likelihood of each form from what it leaves over, as if so many places were independent.
    errors = np.array([max(one.error, LEAST_ERROR) for one in found])
    places = min(INDEPENDENT, len(u))
    odds = (errors.min() / errors) ** places
    odds[-1] /= np.sqrt(places)
    shared = [replace(one, share=float(share)) for one, share in zip(found, odds / odds.sum())]
    best = int(np.argmax(odds))
    return replace(shared[best], rivals=tuple(one for i, one in enumerate(shared) if i != best))


def _fitted(
    u: np.ndarray, v: np.ndarray, values: np.ndarray, count: int, power: float, least: float
) -> Surface:
    """Least squares, outlying values (edge print, scratches, holes' rims) left out, three times over."""
    design, keep = terms(u, v, count), np.ones(len(u), bool)
    wanted = values if power == 0 else np.power(10.0, -power * values)
    found = Surface(np.zeros((count, values.shape[1])), power, np.inf)
    for _ in range(4):
        weights = least_squares(design[keep], wanted[keep])
        left = np.abs(values - Surface(weights, power, 0).at(u, v)).max(axis=1)
        found = Surface(
            weights,
            power,
            float(np.sqrt((left[keep] ** 2).mean())),
            _doubt(design[keep], wanted[keep], weights),
        )
        keep = left <= 3 * max(least, 1.4826 * float(np.median(left)))
    return found


def least_squares(design: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Weights (terms, layers) of many places (n, terms) by the normal equations; what no place tells gets none.

    Terms lie between −1 and 1 and are few, so that squaring them costs no digit that counts, and a tenth of the time.
    """
    return np.linalg.pinv(design.T @ design, rcond=1e-12, hermitian=True) @ (design.T @ wanted)


def weights_along(at: np.ndarray, values: np.ndarray) -> np.ndarray:
    """A parabola (3, layers) [D] along one line, from its constant to its bend; outlying places left out, three times over."""
    design, keep = np.stack([np.ones_like(at), at, at * at], axis=1), np.ones(len(at), bool)
    found = np.zeros((3, values.shape[1]))
    for _ in range(4):
        found = least_squares(design[keep], values[keep])
        left = np.abs(values - design @ found).max(axis=1)
        keep = left <= 3 * max(0.002, 1.4826 * float(np.median(left)))
    return found


def _doubt(design: np.ndarray, wanted: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Covariance (terms, terms) of a layer's weights, as if INDEPENDENT places had been read."""
    left = float(((wanted - design @ weights) ** 2).mean())
    alike = max(1.0, len(design) / INDEPENDENT)
    return np.linalg.pinv(design.T @ design) * left * alike


def fitted_surface(level: np.ndarray, where: np.ndarray, tall: float) -> Surface | None:
    """The surface through a picture (h, w, 3) [D] at chosen pixels, 0 at their middle; None when they lie on one side.

    `tall` is the scan's height over its width: whole pixels of a small picture miss it by up to half a hundredth.
    """
    height, width = level.shape[:2]
    rows, columns = np.nonzero(where)
    u = (columns + 0.5 - width / 2) / (width / 2)
    v = ((rows + 0.5) / height - 0.5) * 2 * tall
    if len(u) < 60 or np.ptp(u) < 0.8 or np.ptp(v) < 0.5 * np.ptp(u) * tall:
        return None
    thin = max(1, len(u) // 4000)
    values = level[rows, columns][::thin]
    return surface_through(u[::thin], v[::thin], values - np.median(values, axis=0), 0.004)
