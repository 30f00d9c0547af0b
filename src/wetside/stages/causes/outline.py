"""The step at a mark's outline: how much density it adds, how alike all the way round, how sharp its edge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from wetside.figures.place import Rectangle

FILLED = 0.57
NOTHING = 0.004  # [D] under which agreement cannot be told from grain


@dataclass(frozen=True)
class Step:
    """ΔD per layer and its spread [D], the edge in a word, and numbers that speak for or against a mark."""

    delta: np.ndarray
    spread: np.ndarray
    edge: Literal["sharp", "soft"]
    evidence: tuple[float, ...]


def outline_of(area: np.ndarray) -> tuple[np.ndarray, float]:
    """Outline (n, 2) of the largest part of a mask as x, y, and its solidity: area over that of its convex hull."""
    outlines, _ = cv2.findContours(area.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=len)[:, 0, :].astype(np.float32)
    hull = cv2.contourArea(cv2.convexHull(outline))
    return outline, float(min(1.0, (float(area.sum()) + 1) / (hull + len(outline) / 2 + 1)))


def step_at(patch: np.ndarray, outline: np.ndarray, area: np.ndarray, taken: np.ndarray) -> Step:
    """The step of a mark in a patch of density (h, w, 3) [D]; `taken` is what the net takes for added."""
    values = _sampled(patch, outline, area)
    if values is None:
        return Step(taken, np.abs(taken) * 0.5, "soft", (0.0,) * 7)
    inner, outer, far = values
    steps = inner - far
    delta = middles(steps)
    spread = 1.4826 * middles(np.abs(steps - delta)) + NOTHING
    size = float(np.sqrt(taken @ taken)) + NOTHING
    way = taken / (size - NOTHING + 1e-6)
    along = steps @ way
    middle = middle_of(along)
    deviation = 1.4826 * middle_of(np.abs(along - middle)) + NOTHING
    around = float((far @ way).std()) + NOTHING
    within = float((inner @ way).std()) + NOTHING
    close = middle_of((inner - outer) @ way)
    aside = delta - way * float(delta @ way)
    evidence = (
        float(np.clip(middle / size, -2, 3)),
        float(np.clip(close / size, -2, 3)),
        float(np.log(size / deviation)),
        float((along > 0.3 * size).mean()),
        float(np.log(size / around)),
        float(np.log(within / around)),
        float(np.sqrt(aside @ aside) / size),
    )
    sharp = close > 0.75 * abs(middle)
    return Step(delta, spread, "sharp" if sharp else "soft", evidence)


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


def _sampled(
    patch: np.ndarray, outline: np.ndarray, area: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
    """Densities inside, 1.5 px and 3.5 px outside the outline, along its normals; None with under 6 such points."""
    mask = area.astype(np.uint8)
    distance = cv2.distanceTransform(mask, cv2.DIST_L2, 3) - cv2.distanceTransform(1 - mask, cv2.DIST_L2, 3)
    smooth = cv2.GaussianBlur(distance, (0, 0), 1.2)
    gx, gy = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    points = outline[:: max(1, len(outline) // 48)]
    at = points.astype(int)
    normal = np.stack([gx[at[:, 1], at[:, 0]], gy[at[:, 1], at[:, 0]]], axis=1)
    normal /= np.sqrt((normal * normal).sum(axis=1, keepdims=True)) + 1e-6
    depth = float(np.clip(distance.max() * 0.6, 0.5, 2.0))
    samples = np.stack([points + normal * d for d in (depth, -1.5, -3.5)])
    height, width = patch.shape[:2]
    inside = ((samples >= 0) & (samples <= np.array([width - 1, height - 1]))).all(axis=(0, 2))
    if inside.sum() < 6:
        return None
    kept = np.ascontiguousarray(samples[:, inside], np.float32)
    values = cv2.remap(patch, kept[..., 0], kept[..., 1], cv2.INTER_LINEAR)
    return values[0], values[1], values[2]
