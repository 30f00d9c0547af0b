"""Crosstalk: camera density to status M, or to a film's own layers, by a 3 × 3 matrix fitted to known patches.

known = M · camera + offset, by least squares for each channel. A neutral wedge moves all three channels together and
leaves the crosstalk open, so it is refused by the condition of the camera densities. Sources: iso-5-3 (status M);
that 24 coloured patches are wanted and a wedge fails is computed on synthetic dyes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

#: Three coefficients and an offset leave one patch over; with so few the coefficients' spread is wide, and says so.
FEWEST = 5
#: Largest over smallest axis of the camera densities' cloud. Coloured patches reach 3–12, a neutral wedge over 40 (computed).
WORST_CONDITION = 25.0
LAYERS = "rgb"


@dataclass(frozen=True)
class Crosstalk:
    """`matrix` (3, 3), `offset` (3,) [D], `covariance` (3, 4, 4) of each row's coefficients and offset.

    `residual` (3,) [D] root mean square with the freedoms taken off; `check` (3,) [D] the same for patches left out of
    the fit one at a time; `highest` (3,) [D] the densest camera density that was fitted.
    """

    matrix: np.ndarray
    offset: np.ndarray
    covariance: np.ndarray
    residual: np.ndarray
    check: np.ndarray
    condition: float
    patches: int
    highest: np.ndarray

    def density(self, camera: np.ndarray) -> np.ndarray:
        """Calibrated densities (…, 3) of camera densities (…, 3)."""
        return np.asarray(camera, float) @ self.matrix.T + self.offset

    def contrast(self) -> np.ndarray:
        """Camera density (3,) gained for each 1 of calibrated density in all layers alike: camera = M⁻¹ · (1, 1, 1)."""
        return np.linalg.solve(self.matrix, np.ones(3))

    def difference(self, camera: np.ndarray) -> np.ndarray:
        """A difference of camera densities (…, 3) as a difference of calibrated ones: no offset."""
        return np.asarray(camera, float) @ self.matrix.T

    def spread(self, camera: np.ndarray, spread: np.ndarray) -> np.ndarray:
        """Spread (3,) of a calibrated density: the reading's own, the coefficients', and the check figure."""
        place = np.append(np.asarray(camera, float), 1.0)
        fit = np.einsum("i,cij,j->c", place, self.covariance, place)
        return np.sqrt(self.matrix**2 @ np.asarray(spread, float) ** 2 + np.maximum(fit, 0) + self.check**2)

    def difference_spread(self, camera: np.ndarray, spread: np.ndarray) -> np.ndarray:
        """Spread (3,) of a calibrated difference: the reading's own and the coefficients'."""
        place = np.append(np.asarray(camera, float), 0.0)
        fit = np.einsum("i,cij,j->c", place, self.covariance, place)
        return np.sqrt(self.matrix**2 @ np.asarray(spread, float) ** 2 + np.maximum(fit, 0))


def condition_of(camera: np.ndarray) -> float:
    """Longest over shortest axis of a cloud of densities (n, 3) about its mean; infinite for a line."""
    axes = np.linalg.svd(camera - camera.mean(axis=0), compute_uv=False)
    return float(axes[0] / axes[2]) if axes[2] > 1e-9 else float("inf")


def refusal(camera: np.ndarray) -> str | None:
    """Why patches (n, 3) cannot carry a matrix; None when they can."""
    if len(camera) < FEWEST:
        return f"{len(camera)} patches; at least {FEWEST} are needed for a matrix and an offset"
    condition = condition_of(camera)
    if condition > WORST_CONDITION:
        how = (
            "on a line"
            if not np.isfinite(condition)
            else f"almost on a line (condition {condition:.0f}, at most {WORST_CONDITION:.0f})"
        )
        return f"the patches lie {how}: a neutral wedge alone cannot tell the channels apart"
    return None


def crosstalk_of(camera: np.ndarray, known: np.ndarray, offset: bool = True) -> Crosstalk:
    """The matrix from camera densities (n, 3) to known ones (n, 3); ValueError where `refusal` would refuse."""
    x, y = np.asarray(camera, float), np.asarray(known, float)
    if (reason := refusal(x)) is not None:
        raise ValueError(reason)
    design = np.hstack([x, np.ones((len(x), 1))]) if offset else x
    inverse = np.linalg.inv(design.T @ design)
    found = inverse @ design.T @ y
    left = y - design @ found
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design)
    freedom = max(1, len(x) - design.shape[1])
    variance = (left**2).sum(axis=0) / freedom
    covariance = np.zeros((3, 4, 4))
    size = design.shape[1]
    wider = _student(freedom)
    covariance[:, :size, :size] = wider**2 * variance[:, None, None] * inverse
    check = wider * np.sqrt(np.mean((left / np.maximum(1 - leverage, 1e-3)[:, None]) ** 2, axis=0))
    shift = found[3] if offset else np.zeros(3)
    return Crosstalk(
        found[:3].T, shift, covariance, np.sqrt(variance), check, condition_of(x), len(x), x.max(axis=0)
    )


def _student(freedom: int) -> float:
    """How much wider one standard deviation is by Student's t with so many freedoms than with many (68.3 % inside)."""
    return float(stdtrit(freedom, 0.84134))


def single_layers(above_base: np.ndarray, layers: list[str]) -> np.ndarray:
    """What single-layer exposures should read (n, 3): their own channel's density above base, and nothing in the others."""
    wanted = np.zeros_like(above_base)
    rows = np.arange(len(layers))
    columns = np.array([LAYERS.index(layer) for layer in layers])
    wanted[rows, columns] = above_base[rows, columns]
    return wanted
