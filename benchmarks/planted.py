"""Photographs exposed on invented stocks, with marks planted in density: shapes, signs and layers as on real film.

Photographs ship inside the scikit-image and scikit-learn packages; `KEPT_OUT` are the ones never used for fitting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

FITTED = ("astronaut.png", "chelsea.png", "flower.jpg")
KEPT_OUT = ("coffee.png", "rocket.jpg", "china.jpg", "motorcycle_left.png")
SHAPES = ("disc", "soft", "streak", "crescent", "blot")
DRAWN = ("ellipse", "ring", "polygon", "stroke", "island")


@dataclass(frozen=True)
class Truth:
    """A planted mark: its box in pixels, density change per layer, shape."""

    box: tuple[int, int, int, int]
    delta: np.ndarray
    shape: str


Planting = Callable[[np.ndarray, float, int, np.random.Generator], tuple[np.ndarray, list[Truth]]]


@lru_cache(maxsize=16)
def photograph(name: str) -> np.ndarray:
    """A linear picture (h, w, 3), 0.002–0.9."""
    import skimage
    import sklearn

    places = (Path(skimage.__file__).parent / "data", Path(sklearn.__file__).parent / "datasets" / "images")
    file = next(place / name for place in places if (place / name).exists())
    picture = cv2.imread(str(file), cv2.IMREAD_COLOR)[..., ::-1]
    return (picture.astype(np.float32) / 255) ** 2.2 * 0.9 + 0.002


def negative(rng: np.random.Generator, names: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray, float]:
    """Density (h, w, 3) of one of the photographs on a stock of its own, the stock's base, and pixels per mm."""
    return negative_of(None, rng, names)


def negative_of(
    picture: np.ndarray | None, rng: np.random.Generator, names: tuple[str, ...] = KEPT_OUT
) -> tuple[np.ndarray, np.ndarray, float]:
    """The same of a linear picture (h, w, 3) that is given."""
    frame_mm, tall_mm = [(36.0, 24.0), (14.0, 10.0), (17.0, 13.0), (10.26, 7.49)][rng.integers(4)]
    width = int(rng.choice([640, 820, 960]))
    height = round(width * tall_mm / frame_mm)
    whole = photograph(str(rng.choice(names))) if picture is None else picture
    scene = _cropped(whole, width, height, rng)
    base = np.array([rng.uniform(0.12, 0.3), rng.uniform(0.4, 0.7), rng.uniform(0.6, 1.0)])
    gradient = np.array([rng.uniform(0.42, 0.52), rng.uniform(0.5, 0.6), rng.uniform(0.5, 0.58)])
    x = np.log10(scene * 0.35 * 2 ** rng.normal(0, 0.5)) + 1.92 + rng.normal(0, 0.05, 3)
    above = gradient * (np.logaddexp(0, 4 * x) / 4 - np.logaddexp(0, 3 * (x - 2.9)) / 3)
    grain = rng.choice([0.002, 0.006, 0.010])
    density = above + base + grain * rng.standard_normal(above.shape) * np.sqrt(above + 0.2)
    return density.astype(np.float32), base, width / frame_mm


def _cropped(picture: np.ndarray, width: int, height: int, rng: np.random.Generator) -> np.ndarray:
    tall, wide = picture.shape[:2]
    w = min(wide, tall * width / height) * rng.uniform(0.6, 1.0)
    h = w * height / width
    x, y = rng.uniform(0, wide - w), rng.uniform(0, tall - h)
    part = np.ascontiguousarray(picture[int(y) : int(y + h), int(x) : int(x + w)])
    if rng.random() < 0.5:
        part = np.ascontiguousarray(part[:, ::-1])
    how = cv2.INTER_AREA if part.shape[1] > width else cv2.INTER_CUBIC
    return np.maximum(cv2.resize(part, (width, height), interpolation=how), 1e-3)


def planted(
    density: np.ndarray, px_per_mm: float, count: int, rng: np.random.Generator
) -> tuple[np.ndarray, list[Truth]]:
    """The density with marks of 0.4–3 mm added, 0.055–0.35 D, in one layer, in all, or in some of each."""
    truths: list[Truth] = []
    for _ in range(count):
        shape = str(rng.choice(SHAPES))
        weight = weight_of(density.shape[:2], px_per_mm, shape, rng)
        rows, columns = np.nonzero(weight > 0.5)
        if len(rows) < 30:
            continue
        box = (int(columns.min()), int(rows.min()), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)
        if any(overlap(box, other.box) > 0 for other in truths):
            continue
        amount = np.exp(rng.uniform(np.log(0.055), np.log(0.35))) * rng.choice([-1, 1])
        layers = rng.integers(6)
        delta = np.ones(3) * amount if layers < 3 else np.eye(3)[layers - 3] * amount
        if rng.random() < 0.3:
            delta = delta * rng.uniform(0.6, 1.4, 3)
        density = density + weight[..., None] * delta.astype(np.float32)
        truths.append(Truth(box, delta, shape))
    return np.maximum(density, 0).astype(np.float32), truths


def weight_of(size: tuple[int, int], px_per_mm: float, shape: str, rng: np.random.Generator) -> np.ndarray:
    """Weight (h, w) of one mark of a shape, 0 to 1."""
    height, width = size
    radius = np.exp(rng.uniform(np.log(0.3), np.log(1.3))) * px_per_mm
    radius = float(np.clip(radius, 4, 0.12 * height))
    x0, y0 = rng.uniform(radius, width - radius), rng.uniform(radius, height - radius)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    turn = rng.uniform(0, np.pi)
    u = (x - x0) * np.cos(turn) + (y - y0) * np.sin(turn)
    v = -(x - x0) * np.sin(turn) + (y - y0) * np.cos(turn)
    if shape == "soft":
        return np.exp(-0.5 * (np.hypot(u, v) / (0.6 * radius)) ** 2)
    if shape == "streak":
        distance = radius * 0.5 - np.hypot(u / rng.uniform(3, 6), v)
    elif shape == "crescent":
        distance = np.minimum(radius - np.hypot(u, v), np.hypot(u - 0.6 * radius, v) - 0.8 * radius)
    elif shape == "blot":
        wobble = sum(
            rng.uniform(-0.12, 0.12) * np.cos(k * np.arctan2(v, u) + rng.uniform(0, 6)) for k in (2, 3, 4)
        )
        distance = radius * (1 + wobble) - np.hypot(u, v)
    else:
        distance = radius - np.hypot(u, v)
    return np.clip(distance / 1.5 + 0.5, 0, 1)


def planted_otherwise(
    density: np.ndarray, px_per_mm: float, count: int, rng: np.random.Generator
) -> tuple[np.ndarray, list[Truth]]:
    """The same task by another generator: marks drawn as ellipses, rings, polygons, bent strokes and islands of a random
    field, then softened; 0.055–0.4 D, in one layer, two or all. Neither the finder nor its threshold was fitted to it."""
    truths: list[Truth] = []
    for _ in range(count):
        shape = str(rng.choice(DRAWN))
        weight = _drawn(density.shape[:2], px_per_mm, shape, rng)
        rows, columns = np.nonzero(weight > 0.5)
        if len(rows) < 30:
            continue
        box = (int(columns.min()), int(rows.min()), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)
        if any(overlap(box, other.box) > 0 for other in truths):
            continue
        layers = rng.choice([0, 1], 3) if rng.random() < 0.5 else np.ones(3)
        layers = layers if layers.any() else np.ones(3)
        delta = (
            layers
            * rng.uniform(0.8, 1.0, 3)
            * rng.choice([0.07, 0.1, 0.14, 0.2, 0.3, 0.4])
            * rng.choice([-1, 1])
        )
        density = density + weight[..., None] * delta.astype(np.float32)
        truths.append(Truth(box, delta, shape))
    return np.maximum(density, 0).astype(np.float32), truths


def _drawn(size: tuple[int, int], px_per_mm: float, shape: str, rng: np.random.Generator) -> np.ndarray:
    height, width = size
    canvas = np.zeros(size, np.float32)
    long = float(np.clip(rng.uniform(0.5, 2.5) * px_per_mm, 8, 0.2 * height))
    middle = np.array([rng.uniform(long, width - long), rng.uniform(long, height - long)])
    at, turn = tuple(int(v) for v in middle), float(rng.uniform(0, 180))
    axes = (int(long / 2), max(3, int(long / 2 * rng.uniform(0.4, 1))))
    if shape == "ring":
        cv2.ellipse(
            canvas, at, axes, turn, 0, 360, 1.0, max(3, int(long * rng.uniform(0.1, 0.25))), cv2.LINE_AA
        )
    elif shape == "polygon":
        angles = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(4, 9))))
        reach = long / 2 * rng.uniform(0.6, 1.0, (len(angles), 1))
        corners = middle + reach * np.stack([np.cos(angles), np.sin(angles)], 1)
        cv2.fillPoly(canvas, [corners.astype(np.int32)], 1.0, cv2.LINE_AA)
    elif shape == "stroke":
        way = np.cumsum(rng.normal(0, 0.25, 6)) + np.radians(turn)
        path = middle + np.cumsum(long / 4 * np.stack([np.cos(way), np.sin(way)], 1), 0)
        cv2.polylines(canvas, [path.astype(np.int32)], False, 1.0, int(rng.integers(4, 10)), cv2.LINE_AA)
    elif shape == "island":
        field = cv2.resize(
            rng.standard_normal((12, 12)).astype(np.float32),
            (2 * axes[0], 2 * axes[0]),
            interpolation=cv2.INTER_CUBIC,
        )
        y, x = np.mgrid[-1 : 1 : 2j * axes[0], -1 : 1 : 2j * axes[0]]
        part = (field * 0.4 + 1 - 1.4 * np.hypot(x, y) > 0).astype(np.float32)
        top, left = at[1] - axes[0], at[0] - axes[0]
        canvas[top : top + len(part), left : left + len(part)] = part
    else:
        cv2.ellipse(canvas, at, axes, turn, 0, 360, 1.0, -1, cv2.LINE_AA)
    soft = rng.choice([0.7, 1.2, 2.5, 5.0])
    return np.clip(cv2.GaussianBlur(canvas, (0, 0), float(min(soft, 0.1 * long))), 0, 1)


def overlap(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> float:
    """Intersection over union of two boxes."""
    w = min(a[0] + a[2], b[0] + b[2]) - max(a[0], b[0])
    h = min(a[1] + a[3], b[1] + b[3]) - max(a[1], b[1])
    shared = max(0, w) * max(0, h)
    return shared / (a[2] * a[3] + b[2] * b[3] - shared)
