"""A frame scanned twice, the second time turned half round in the holder: the scanner's shading apart from the film's.

Answers: which of the unevenness stays with the scanner when the film is turned? The film, picture and all, cancels
between the scan and the turned one laid back over it; what is left is the scanner's shading less its own half turn.
So only the part that changes under half a turn can be told (a light stronger on one side); what is alike after it (a
fall to all corners) cannot, and wants an open gate.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.finding import CannotSay
from wetside.laws.image.laid_over import laid_over, likeness, small

SIZE = 400
#: Residual [D] over which the two scans do not show the same film.
ALIKE = 0.15


@dataclass(frozen=True)
class Shading:
    """`field` (h, w, 3) [D]: the scanner's part that changes under half a turn, in the first scan's place; its error [D]."""

    field: np.ndarray
    error: float
    shift: tuple[float, float]

    def slopes(self) -> np.ndarray:
        """Density [D] gained from the left edge to the right, and from top to bottom (2, 3)."""
        height, width = self.field.shape[:2]
        x, y = np.linspace(-0.5, 0.5, width), np.linspace(-0.5, 0.5, height)
        across, down = self.field.mean(axis=0), self.field.mean(axis=1)
        return np.stack([np.polyfit(x, across, 1)[0], np.polyfit(y, down, 1)[0]])


def scanner_shading(density: np.ndarray, turned: np.ndarray) -> Shading | CannotSay:
    """The scanner's shading from densities (h, w, 3) [D] of a frame and of its second scan as the scanner stored it."""
    if density.shape != turned.shape:
        return CannotSay(
            "the two scans differ in size", "a second scan with the same settings, the film turned half round"
        )
    first, back = small(density, SIZE), small(turned, SIZE)[::-1, ::-1]
    back, shift = laid_over(first, back)
    rim = 0.06
    rows, columns = (slice(int(n * rim), n - int(n * rim)) for n in first.shape[:2])
    away = first - back
    away = away - np.median(away[rows, columns], axis=(0, 1))
    left_over = away - cv2.GaussianBlur(away, (0, 0), SIZE / 40)
    error = float(1.4826 * np.median(np.abs(left_over[rows, columns])))
    if error > ALIKE or likeness(first[rows, columns], back[rows, columns]) < 0.7:
        return CannotSay(
            "the two scans do not show the same frame",
            "the same frame again, the film turned half round in its holder",
        )
    smooth = _odd_surface(away, rows, columns) / 2
    return Shading(smooth.astype(np.float32), error / 2, shift)


def _odd_surface(away: np.ndarray, rows: slice, columns: slice) -> np.ndarray:
    """A smooth surface that changes its sign under half a turn: terms x, y, x³, x²y, xy², y³, fitted robustly (h, w, 3)."""
    height, width = away.shape[:2]
    y, x = np.meshgrid(np.linspace(-1, 1, height), np.linspace(-1, 1, width), indexing="ij")
    terms = np.stack([x, y, x**3, x * x * y, x * y * y, y**3], axis=-1)
    design, values = terms[rows, columns].reshape(-1, 6), away[rows, columns].reshape(-1, 3)
    weight = np.ones(len(values))
    for _ in range(4):
        found, *_ = np.linalg.lstsq(design * weight[:, None], values * weight[:, None], rcond=None)
        left = np.abs(values - design @ found).max(axis=1)
        weight = (left < 4 * np.median(left) + 1e-6).astype(float)
    return terms @ found
