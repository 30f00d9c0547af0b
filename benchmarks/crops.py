"""Pieces of photographs as negatives with marks planted, for fitting the finder (`benchmarks.fit_marks`).

They are made at half size, as the finder sees a frame: radii, edges and grain are those of half-size pixels.
"""

from __future__ import annotations

import cv2
import numpy as np

from benchmarks.drawn_scenes import drawn_scene
from benchmarks.shapes import weight

SIDE = 192
DRAWN = 0.3  # share of pieces whose scene is drawn


def exposed(scene: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Density (h, w, 3) of a linear scene on a stock of its own: base, gradients, toe, shoulder, grain."""
    base = np.array([rng.uniform(0.08, 0.35), rng.uniform(0.3, 0.75), rng.uniform(0.5, 1.05)])
    gradient = rng.uniform(0.4, 0.7) * rng.uniform(0.88, 1.12, 3)
    exposure = rng.normal(0, 0.25) + rng.normal(0, 0.06, 3)
    x = cv2.log(scene) / np.float32(np.log(10)) + (np.log10(0.35) + 1.92 + exposure).astype(np.float32)
    steps = np.linspace(-4, 5, 901, dtype=np.float32)
    curve = np.logaddexp(0, 4 * steps) / 4 - np.logaddexp(0, 3 * (steps - 2.9)) / 3
    above = np.interp(x, steps, curve).astype(np.float32) * gradient.astype(np.float32)
    density = above + base.astype(np.float32)
    if rng.random() < 0.3:
        y, x = np.mgrid[-1 : 1 : density.shape[0] * 1j, -1 : 1 : density.shape[1] * 1j]
        density = density + rng.normal(0, 0.03, (1, 1, 3)) * (x * rng.normal() + y * rng.normal())[..., None]
    return density.astype(np.float32), above


def grain(above: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Grain [D], as strong in the middle tones as in the study's negatives or less, sometimes coarser than a pixel."""
    noise = rng.standard_normal(above.shape, np.float32)
    if rng.random() < 0.4:
        sigma = rng.uniform(0.3, 0.8)
        noise = cv2.GaussianBlur(noise, (0, 0), sigma)
        noise /= noise.std()
    return noise * np.float32(rng.uniform(0.0003, 0.006)) * cv2.sqrt(above + np.float32(0.2))


def scene_of(photo: np.ndarray, rng: np.random.Generator, side: int = SIDE) -> np.ndarray:
    """A square piece of a photograph (8-bit RGB) as linear light, enlarged or reduced, flipped, its saturation changed."""
    tall, wide = photo.shape[:2]
    zoom = np.exp(rng.uniform(np.log(0.7), np.log(2.0)))
    if min(tall, wide) > 700 and rng.random() < 0.5:
        zoom = rng.uniform(1.5, 0.8 * min(tall, wide) / side)
    part = int(np.clip(side * zoom, 64, min(tall, wide)))
    y, x = rng.integers(0, tall - part + 1), rng.integers(0, wide - part + 1)
    piece = photo[y : y + part, x : x + part]
    how = cv2.INTER_AREA if part > side else (cv2.INTER_CUBIC if rng.random() < 0.6 else cv2.INTER_LINEAR)
    piece = cv2.resize(piece, (side, side), interpolation=how).astype(np.float32) / 255
    if rng.random() < 0.5:
        piece = piece[:, ::-1]
    if rng.random() < 0.15:
        piece = piece.transpose(1, 0, 2)
    scene = np.clip(piece, 0, 1) ** 2.2 * 0.9 + 0.002
    if rng.random() < 0.4:
        grey = scene.mean(axis=2, keepdims=True)
        scene = grey + rng.uniform(0.3, 1.3) * (scene - grey)
    if rng.random() < 0.3:
        scene = recoloured(scene, rng)
    if rng.random() < 0.2:
        scene = cv2.GaussianBlur(np.ascontiguousarray(scene), (0, 0), rng.uniform(0.4, 1.5))
    return np.ascontiguousarray(np.maximum(scene, 1e-3), np.float32)


def recoloured(scene: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The scene in other colours, its layers swapped and each flatter or steeper than it was: few photographs hold few colours."""
    swapped = np.maximum(scene[..., rng.permutation(3)], 1e-3)
    return np.clip(0.18 * (swapped / 0.18) ** (rng.uniform(0.7, 1.25) * rng.uniform(0.9, 1.1, 3)), 1e-3, 0.95)


def planted(
    density: np.ndarray, rng: np.random.Generator, count: int, tall: int | None = None
) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[tuple[tuple[int, int, int, int], np.ndarray]]]:
    """Density with marks; number of each pixel's mark (0 none); the density added; each mark's box and ΔD."""
    height, width = density.shape[:2]
    number = np.zeros((height, width), np.uint8)
    added = np.zeros_like(density)
    truths: list[tuple[tuple[int, int, int, int], np.ndarray]] = []
    for _ in range(count):
        radius = float(np.exp(rng.uniform(np.log(2.2), np.log(0.12 * (tall or 350)))))
        own = weight(radius, rng)
        half = own.shape[0] // 2
        x, y = int(rng.integers(0, width)), int(rng.integers(0, height))
        x0, y0, x1, y1 = max(0, x - half), max(0, y - half), min(width, x + half), min(height, y + half)
        own = own[y0 - y + half : y1 - y + half, x0 - x + half : x1 - x + half]
        inside = own > 0.5
        if (
            inside.sum() < 8
            or inside.sum() > 5000
            or (number[y0:y1, x0:x1][cv2.dilate(inside.astype(np.uint8), np.ones((5, 5))) > 0]).any()
        ):
            continue
        size = np.exp(rng.uniform(np.log(0.05), np.log(0.38))) * rng.choice([-1, 1])
        kind = rng.integers(7)
        layers = np.ones(3) if kind < 3 else np.eye(3)[kind - 3] if kind < 6 else rng.uniform(-0.2, 1, 3)
        if rng.random() < 0.4:
            layers = layers * rng.uniform(0.6, 1.4, 3)
        delta = (size * layers / max(0.7, np.abs(layers).max())).astype(np.float32)
        added[y0:y1, x0:x1] += own[..., None] * delta
        rows, columns = np.nonzero(inside)
        truths.append(
            (
                (
                    x0 + int(columns.min()),
                    y0 + int(rows.min()),
                    int(np.ptp(columns)) + 1,
                    int(np.ptp(rows)) + 1,
                ),
                delta,
            )
        )
        number[y0:y1, x0:x1][inside] = len(truths)
    return np.maximum(density + added, 0), number, added, truths


def objects_in_the_way(scene: np.ndarray, photo: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """The scene with round or cornered things of another photograph in it: they replace the picture and are no marks."""
    other = scene_of(photo, rng, scene.shape[0])
    for _ in range(int(rng.integers(1, 4))):
        radius = float(np.exp(rng.uniform(np.log(3), np.log(30))))
        own = weight(radius, rng)
        half = own.shape[0] // 2
        if 2 * half >= scene.shape[0]:
            continue
        x, y = (int(v) for v in rng.integers(half, scene.shape[0] - half + 1, 2))
        place = (slice(y - half, y + half), slice(x - half, x + half))
        thing = (
            other[place] if rng.random() < 0.5 else np.median(other[place], axis=(0, 1)) * rng.uniform(0.5, 2)
        )
        solid = (own > 0.5).astype(np.float32) if rng.random() < 0.3 else own
        scene[place] += solid[..., None] * (thing - scene[place])
    return np.maximum(scene, 1e-3)


def crop(photos: list[np.ndarray], rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Density (192, 192, 3), number of the mark at each pixel, density added."""
    if rng.random() < DRAWN:
        scene = drawn_scene(SIDE, SIDE, rng)
    else:
        scene = scene_of(photos[rng.integers(len(photos))], rng)
    if rng.random() < 0.25:
        scene = objects_in_the_way(scene, photos[rng.integers(len(photos))], rng)
    density, above = exposed(scene, rng)
    density, number, added, _ = planted(
        density, rng, int(rng.choice([0, 1, 2, 3, 4], p=[0.2, 0.2, 0.2, 0.2, 0.2]))
    )
    density = density + grain(above, rng)
    return density.astype(np.float16).astype(np.float32), number, added
