"""How far a length of film lies turned in its file, and places in the array set upright."""

from __future__ import annotations

import cv2
import numpy as np

STEEPEST = 3.0


def upright(on: np.ndarray, angle: float | None = None) -> tuple[np.ndarray, float]:
    """A mask (h, w) set upright as float32, and the angle [degrees] it was turned by; found where none is given."""
    mask = on.astype(np.float32)
    if angle is None:
        angle = _steepest_edges(mask)
    return (_turned(mask, angle), angle) if angle else (mask, 0.0)


def lie_of(x: float, y: float, angle: float, height: int, width: int) -> tuple[float, float]:
    """The place in the array as it was of a place in the array set upright."""
    if not angle:
        return x, y
    back = cv2.invertAffineTransform(cv2.getRotationMatrix2D((width / 2, height / 2), angle, 1))
    found = back @ np.array([x, y, 1.0])
    return float(found[0]), float(found[1])


def _turned(mask: np.ndarray, angle: float) -> np.ndarray:
    height, width = mask.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), angle, 1)
    return cv2.warpAffine(mask, turn, (width, height), flags=cv2.INTER_LINEAR)


def _steepest_edges(mask: np.ndarray) -> float:
    """The angle at which rows change most abruptly: the long edges of the pictures then lie along rows."""
    coarse = _best(_smaller(mask, 300), np.arange(-STEEPEST, STEEPEST + 0.01, 0.5))
    fine = _best(_smaller(mask, 800), coarse + np.arange(-0.4, 0.41, 0.1))
    return 0.0 if abs(fine) < 0.08 else float(fine)


def _smaller(mask: np.ndarray, longest: int) -> np.ndarray:
    part = longest / max(mask.shape)
    return cv2.resize(mask, None, fx=part, fy=part, interpolation=cv2.INTER_AREA) if part < 1 else mask


def _best(mask: np.ndarray, angles: np.ndarray) -> float:
    sharpness = [float((np.diff(_turned(mask, angle).mean(axis=1)) ** 2).sum()) for angle in angles]
    return float(angles[int(np.argmax(sharpness))])
