"""The step at a mark's outline: how much density it adds, how alike all the way round, how sharp its edge."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import cv2
import numpy as np

from wetside.figures.place import Rectangle

FILLED = 0.57
NOTHING = 0.004  # [D] under which agreement cannot be told from grain


class Agreement(NamedTuple):
    """How the step along an outline agrees with what is taken for added; logarithms are natural.

    The step's middle over the ΔD, from inside to 3.5 px and to 1.5 px outside (−2 to 3); log of ΔD over the step's scatter;
    share of the outline where it is over 0.3 ΔD; logs of ΔD over the scatter outside and of the scatter inside over that
    outside; what of the step is of another colour, over the ΔD.
    """

    whole: float = 0.0
    close: float = 0.0
    alike: float = 0.0
    raised: float = 0.0
    over_around: float = 0.0
    calm_within: float = 0.0
    aside: float = 0.0


@dataclass(frozen=True)
class Step:
    """ΔD per layer and its spread [D], the edge in a word, and what speaks for or against a mark."""

    delta: np.ndarray
    spread: np.ndarray
    edge: Literal["sharp", "soft"]
    agreement: Agreement


def outline_of(area: np.ndarray) -> tuple[np.ndarray, float]:
    """Outline (n, 2) of the largest part of a mask as x, y, and its solidity: area over that of its convex hull."""
    outlines, _ = cv2.findContours(area.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=len)[:, 0, :].astype(np.float32)
    hull = cv2.contourArea(cv2.convexHull(outline))
    return outline, min(1.0, (np.count_nonzero(area) + 1) / (hull + len(outline) / 2 + 1))


def step_at(patch: np.ndarray, outline: np.ndarray, area: np.ndarray, taken: np.ndarray) -> Step:
    """The step of a mark in a patch of density (h, w, 3) [D]; `taken` is what the net takes for added."""
    values = _sampled(patch, outline, area)
    if values is None:
        return Step(taken, np.abs(taken) * 0.5, "soft", Agreement())
    steps = values[0] - values[2]
    delta = middles(steps)
    spread = 1.4826 * middles(np.abs(steps - delta)) + NOTHING
    size = math.sqrt(float(taken @ taken)) + NOTHING
    way = taken / (size - NOTHING + 1e-6)
    inner, outer, far = values @ way
    along = inner - far
    middle = middle_of(along)
    deviation = 1.4826 * middle_of(np.abs(along - middle)) + NOTHING
    around, within = scattered(far) + NOTHING, scattered(inner) + NOTHING
    close = middle_of(inner - outer)
    aside = delta - way * float(delta @ way)
    agreement = Agreement(
        min(3.0, max(-2.0, middle / size)),
        min(3.0, max(-2.0, close / size)),
        math.log(size / deviation),
        np.count_nonzero(along > 0.3 * size) / len(along),
        math.log(size / around),
        math.log(within / around),
        math.sqrt(float(aside @ aside)) / size,
    )
    sharp = close > 0.75 * abs(middle)
    return Step(delta, spread, "sharp" if sharp else "soft", agreement)


def scattered(values: np.ndarray) -> float:
    """Standard deviation of (n,); numpy's own takes five times as long over so few."""
    away = values - values.sum() / len(values)
    return math.sqrt(float(away @ away) / len(values))


def kind_of(box: Rectangle, area: int) -> str:
    """A short word for the shape: "streak" when four times longer than wide, "patch" when large, else "spot"."""
    long, short = max(box.w, box.h), max(1, min(box.w, box.h))
    if long > 4 * short:
        return "streak"
    return "patch" if area > 1000 else "spot"


def edge_by_fill(amount: np.ndarray) -> Literal["sharp", "soft"]:
    """How a mark (h, w) [D, positive inside] ends: sharp where most of what reaches a third of its height reaches two thirds too.

    A flat disc fills 0.7 and more of itself so, a bell-shaped one ln(3/2) / ln 3 = 0.37.
    """
    height = float(np.percentile(amount, 95))
    low, high = (amount > height / 3).sum(), (amount > 2 * height / 3).sum()
    return "sharp" if high > FILLED * low else "soft"


def edge_against(own: np.ndarray, around: Sequence[np.ndarray]) -> Literal["sharp", "soft"]:
    """How a mark that was drawn by a rectangle ends: linear pixels (h, w, 3) of it and of the rectangles beside it."""
    inside, *sides = (
        np.log10(np.maximum(part.astype(np.float32), 1e-6)).mean(axis=2) for part in (own, *around)
    )
    level = np.median(np.concatenate([side.ravel() for side in sides]))
    amount = cv2.blur(inside - level, (3, 3))
    low, high = np.percentile(amount, (5, 95))
    return edge_by_fill(amount if high > -low else -amount)


def middles(values: np.ndarray) -> np.ndarray:
    """Medians (3,) of (n, 3); the upper of the two in the middle where n is even."""
    return np.partition(values, len(values) // 2, axis=0)[len(values) // 2]


def middle_of(values: np.ndarray) -> float:
    """Median of (n,), the upper of the two in the middle where n is even."""
    return float(np.partition(values, len(values) // 2)[len(values) // 2])


def _sampled(patch: np.ndarray, outline: np.ndarray, area: np.ndarray) -> np.ndarray | None:
    """Densities (3, n, 3) inside, 1.5 px and 3.5 px outside the outline, along its normals; None with under 6 such points."""
    mask = area.view(np.uint8)
    within = cv2.distanceTransform(mask, cv2.DIST_L2, 3)
    deepest = cv2.minMaxLoc(within)[1]
    depth = cv2.GaussianBlur(within - cv2.distanceTransform(1 - mask, cv2.DIST_L2, 3), (0, 0), 1.2)
    points = outline[:: max(1, len(outline) // 48)]
    normal = _normals(depth, points)
    depths = np.array([min(2.0, max(0.5, 0.6 * deepest)), -1.5, -3.5], np.float32)
    samples = points + normal * depths[:, None, None]
    height, width = patch.shape[:2]
    x, y = samples[..., 0], samples[..., 1]
    inside = ((x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)).all(axis=0)
    if np.count_nonzero(inside) < 6:
        return None
    kept = samples[:, inside]
    return cv2.remap(patch, kept[..., 0], kept[..., 1], cv2.INTER_LINEAR)


def _normals(depth: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Directions (n, 2), of length one, in which the depth (h, w) in a mark grows, at points (n, 2) of its outline."""
    at = points[:, 1].astype(int) * depth.shape[1] + points[:, 0].astype(int)
    normal = np.empty_like(points)
    for axis in range(2):
        slope = cv2.Sobel(depth, cv2.CV_32F, 1 - axis, axis)
        slope.ravel().take(at, out=normal[:, axis], mode="clip")
    normal /= np.sqrt(normal[:, :1] ** 2 + normal[:, 1:] ** 2) + 1e-6
    return normal
