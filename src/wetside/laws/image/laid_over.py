"""Two scans of one frame laid over one another, and whether they show the same frame: by phase correlation of fine detail."""

from __future__ import annotations

import cv2
import numpy as np

#: Detail finer than this [px] is what two scans are compared by.
FINE = 12


def small(density: np.ndarray, size: int = 400) -> np.ndarray:
    """A picture (h, w, 3) with its longer side at most `size` pixels, float32."""
    shrink = max(1.0, max(density.shape[:2]) / size)
    to = (max(8, round(density.shape[1] / shrink)), max(8, round(density.shape[0] / shrink)))
    return cv2.resize(density.astype(np.float32), to, interpolation=cv2.INTER_AREA)


def laid_over(first: np.ndarray, second: np.ndarray) -> tuple[np.ndarray, tuple[float, float]]:
    """The second (h, w, 3) moved so that its picture lies over the first's, of the same size; and by how much [px]."""
    window = cv2.createHanningWindow((first.shape[1], first.shape[0]), cv2.CV_32F)
    (dx, dy), _ = cv2.phaseCorrelate(_detail(second), _detail(first), window)
    move = np.array([[1, 0, dx], [0, 1, dy]], np.float32)
    size = (first.shape[1], first.shape[0])
    return cv2.warpAffine(second, move, size, borderMode=cv2.BORDER_REPLICATE), (float(dx), float(dy))


def likeness(first: np.ndarray, second: np.ndarray) -> float:
    """Correlation of two pictures' fine detail, −1 to 1."""
    return float(np.corrcoef(_detail(first).ravel(), _detail(second).ravel())[0, 1])


def _detail(picture: np.ndarray) -> np.ndarray:
    grey = np.ascontiguousarray(picture.mean(axis=2))
    return grey - cv2.GaussianBlur(grey, (0, 0), FINE)
