"""What stays the same from frame to frame, before anything else is known of the film: the rebate under its light.

Pictures differ, the rebate does not. So a pixel that agrees over the frames, once each frame's exposure is taken off,
is rebate or bare light; and what varies over the rebate is the light. Needs three scans of one size, and pictures
that differ: a roll of equal frames gives None, and the film is looked for without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.laws.image.layers import lowest
from wetside.stages.negative.found.base import ORANGE
from wetside.stages.negative.scanner.light_surface import INDEPENDENT, Surface, fitted_surface
from wetside.stages.negative.scanner.working import Working

SMALL = 240
MOST = 16
#: Scatter [D] over the frames up to which a pixel of the small pictures counts as the same.
SAME = 0.012
#: What the surface may leave over the rebate [D]; more, and it lies over pictures too.
LEFT_OVER = 0.012
BIN = 0.03
#: What exposure alone leaves of the differences over a rebate [D]: grain and the light's own change.
ALIKE = 0.05
#: Film is no more than this [D] over the thinnest part of a scan; a holder is.
DENSEST = 2.2
LEAST_SHARE = 0.01
#: A shift counts from so many times its error on.
CLEAR = 4.0


@dataclass(frozen=True)
class Steady:
    """`shifts` (n,) [D]: how much denser each frame was scanned than the roll's middle, all layers alike.

    `surface`: density that the light lacks over the rebate, zero at the rebate's middle;
    `span` [D] how much that varies over the rebate.
    """

    shifts: np.ndarray
    surface: Surface
    span: float


def steady(frames: Sequence[Working]) -> Steady | None:
    """Exposure of every frame and the light's fall-off from what a roll's frames share; None where they do not tell."""
    if len(frames) < 3:
        return None
    sampled = frames[:: max(1, -(-len(frames) // MOST))]
    shape = sampled[0].kept.shape
    stack = np.stack([_small(f.density) for f in sampled if f.kept.shape == shape])
    if len(stack) < 3:
        return None
    film = (lowest(stack) < np.percentile(lowest(stack), 1) + DENSEST).all(axis=0)
    stack -= _exposures(stack, film)[:, None, None, None]
    same = film & (1.4826 * _scatter(stack) < SAME)
    middle = np.median(stack, axis=0)
    rebate = _base_hued(middle, same)
    if rebate.mean() < LEAST_SHARE:
        return None
    found = fitted_surface(middle, rebate, frames[0].height / frames[0].width)
    if found is None or found.error > LEFT_OVER:
        return None
    lacking = found.over(*rebate.shape)[rebate]
    return Steady(_shifts(frames, middle, rebate), found, float(np.ptp(np.percentile(lacking, [2, 98]))))


def _small(density: np.ndarray) -> np.ndarray:
    height, width = density.shape[:2]
    shrink = max(1.0, max(height, width) / SMALL)
    size = (max(1, round(width / shrink)), max(1, round(height / shrink)))
    return cv2.resize(density, size, interpolation=cv2.INTER_AREA)


def _exposures(stack: np.ndarray, film: np.ndarray) -> np.ndarray:
    """Shift (n,) [D] of each frame against the roll's middle: the commonest difference that all layers show alike."""
    away = (stack - stack[0])[:, film]
    shifts = np.array([_commonest(one[np.ptp(one, axis=1) < 0.02].mean(axis=1)) for one in away])
    shifts[0] = 0.0
    return shifts - np.median(shifts)


def _commonest(values: np.ndarray) -> float:
    """The densest 0.01 D of a sample; 0 when it is small."""
    if len(values) < 60:
        return 0.0
    counts, edges = np.histogram(values, np.arange(-1.5, 1.5, 0.005))
    pairs = counts[1:] + counts[:-1]
    middle = edges[int(np.argmax(pairs)) + 1]
    near = values[np.abs(values - middle) < 0.01]
    return float(np.median(near)) if len(near) else 0.0


def _scatter(stack: np.ndarray) -> np.ndarray:
    """Median deviation from the median over the frames, worst layer (h, w) [D]."""
    away = np.abs(stack - np.median(stack, axis=0))
    return np.sort(away, axis=0)[-(-2 * len(stack) // 3)].max(axis=2)


def _base_hued(middle: np.ndarray, same: np.ndarray) -> np.ndarray:
    """The steady pixels of the base's hue: the commonest hue, or one more orange than it that is common too."""
    hue = np.round(np.stack([middle[..., 1] - middle[..., 0], middle[..., 2] - middle[..., 0]], -1) / BIN)
    found, counts = np.unique(hue[same].astype(int), axis=0, return_counts=True)
    if len(found) == 0:
        return np.zeros_like(same)
    commonest = found[np.argmax(counts)]
    orange = ((found - commonest) * BIN > ORANGE[1:] - BIN).all(axis=1) & (counts > 0.04 * counts.sum())
    if orange.any():
        commonest = found[orange][np.argmax(counts[orange])]
    return same & (np.abs(hue - commonest) <= 1).all(axis=2)


def _shifts(frames: Sequence[Working], middle: np.ndarray, rebate: np.ndarray) -> np.ndarray:
    """Every frame's shift [D] where the rebate lies; 0 where it is not CLEAR of its error, in a frame of another size, or whose rebate lies elsewhere."""
    found = np.zeros((len(frames), 2))
    for i, frame in enumerate(frames):
        small = _small(frame.density)
        if small.shape == middle.shape:
            found[i] = _shift((small - middle)[rebate])
    shifts = found[:, 0] - np.median(found[:, 0])
    return np.where(np.abs(shifts) > CLEAR * found[:, 1], shifts, 0.0)


def _shift(away: np.ndarray) -> tuple[float, float]:
    """What a frame's rebate (n, 3) lies away by and that median's error [D]; 0 where most of it is not moved alike: a
    turned strip has its picture there."""
    values = away.mean(axis=1)
    level = float(np.median(values))
    if (np.abs(away - level).max(axis=1) < ALIKE).mean() <= 0.5:
        return 0.0, 0.0
    scatter = 1.4826 * float(np.median(np.abs(values - level)))
    return level, 1.2533 * scatter / min(len(values), INDEPENDENT) ** 0.5
