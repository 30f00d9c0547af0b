"""Marks of many shapes for fitting the finder: more than the study plants, so that it learns marks and not one generator.

Every shape is a weight 0–1 on a square window whose middle is the mark's; the caller adds weight × ΔD.
"""

from __future__ import annotations

import cv2
import numpy as np

Window = np.ndarray


def _axes(half: int, rng: np.random.Generator) -> tuple[Window, Window]:
    """Coordinates (u, v) in pixels of a window of 2·half, turned at random."""
    y, x = np.mgrid[-half:half, -half:half].astype(np.float32) + 0.5
    turn = rng.uniform(0, 2 * np.pi)
    return x * np.cos(turn) + y * np.sin(turn), -x * np.sin(turn) + y * np.cos(turn)


def _edge(distance: Window, rng: np.random.Generator, radius: float) -> Window:
    """Weight from the distance inside an outline; from half a pixel wide to half a radius wide."""
    width = np.exp(rng.uniform(np.log(0.6), np.log(max(1.5, 0.5 * radius))))
    if rng.random() < 0.5:
        width = rng.uniform(0.6, 1.2)
    return np.clip(distance / width + 0.5, 0, 1)


def blob(radius: float, rng: np.random.Generator) -> Window:
    """A disc, an ellipse or a blot."""
    u, v = _axes(int(1.9 * radius) + 6, rng)
    v = v * rng.choice([1.0, rng.uniform(1, 2)])
    angle = np.arctan2(v, u)
    depth = rng.choice([0.0, 0.06, 0.15])
    wobble = sum(rng.uniform(-depth, depth) * np.cos(k * angle + rng.uniform(0, 6)) for k in range(2, 7))
    return _edge(radius * (1 + wobble) - np.hypot(u, v), rng, radius)


def bell(radius: float, rng: np.random.Generator) -> Window:
    """Soft all the way."""
    u, v = _axes(int(2.2 * radius) + 6, rng)
    v = v * rng.choice([1.0, rng.uniform(1, 2.5)])
    return np.exp(-0.5 * (np.hypot(u, v) / (0.6 * radius)) ** rng.choice([2.0, 3.0]))


def streak(radius: float, rng: np.random.Generator) -> Window:
    """Longer than wide: round-ended or spindle-shaped, with one edge or both soft, or fading along its length."""
    long = rng.uniform(2.5, 9)
    u, v = _axes(int(0.55 * radius * long) + 8, rng)
    v = v + rng.choice([0.0, rng.uniform(-0.3, 0.3)]) * u * u / (radius * long)
    half = 0.5 * radius
    if rng.random() < 0.5:
        distance = half - np.hypot(u / long, v)
    else:
        beyond = np.maximum(np.abs(u) - half * (long - 1), 0)
        distance = half - np.hypot(beyond, v)
    weight = _edge(distance, rng, half)
    if rng.random() < 0.3:
        soft = np.clip(distance / rng.uniform(half * 0.5, half) + 0.5, 0, 1)
        weight = np.where(v > 0, soft, weight)
    if rng.random() < 0.25:
        weight = weight * np.clip(0.6 + 0.8 * u / (half * long), 0, 1)
    return weight


def crescent(radius: float, rng: np.random.Generator) -> Window:
    """A disc less a shifted disc, as where turns of film touched."""
    u, v = _axes(int(1.1 * radius) + 6, rng)
    shift, other = rng.uniform(0.3, 0.8), rng.uniform(0.75, 1.05)
    distance = np.minimum(radius - np.hypot(u, v), np.hypot(u - shift * radius, v) - other * radius)
    return _edge(distance, rng, 0.4 * radius)


def drop(radius: float, rng: np.random.Generator) -> Window:
    """A dried drop: a rim stronger than what it holds, down to the rim alone."""
    u, v = _axes(int(1.7 * radius) + 6, rng)
    angle = np.arctan2(v, u)
    wobble = sum(rng.uniform(-0.08, 0.08) * np.cos(k * angle + rng.uniform(0, 6)) for k in (2, 3, 5))
    distance = radius * (1 + wobble) - np.hypot(u, v * rng.uniform(1, 1.5))
    rim = max(1.0, rng.uniform(0.06, 0.25) * radius)
    inside = rng.choice([0.0, rng.uniform(0.2, 0.8)])
    return _edge(distance, rng, rim) * (inside + (1 - inside) * np.exp(-np.maximum(distance, 0) / rim))


def cloud(radius: float, rng: np.random.Generator) -> Window:
    """An island of a smooth random field: the irregular patch of a stain or of an air bell."""
    half = int(1.4 * radius) + 6
    u, v = _axes(half, rng)
    side = max(4, int(2 * half / max(1.5, radius * rng.uniform(0.2, 0.6))))
    field = cv2.resize(
        rng.standard_normal((side, side)).astype(np.float32),
        (2 * half, 2 * half),
        interpolation=cv2.INTER_CUBIC,
    )
    return _edge(radius * (0.9 + 0.25 * field) - np.hypot(u, v), rng, radius)


def corner(radius: float, rng: np.random.Generator) -> Window:
    """A patch with straight sides: a clip, a fold, a piece of tape."""
    half = int(1.5 * radius) + 6
    u, v = _axes(half, rng)
    count = int(rng.integers(3, 6))
    turns = np.sort(rng.uniform(0, 2 * np.pi, count)) * 0.3 + np.arange(count) * 2 * np.pi / count * 0.7
    distance = np.full_like(u, 1e3)
    for turn in turns:
        distance = np.minimum(distance, radius * rng.uniform(0.5, 0.9) - u * np.cos(turn) - v * np.sin(turn))
    return _edge(np.minimum(distance, 1.35 * radius - np.hypot(u, v)), rng, 0.6 * radius)


def scratch(radius: float, rng: np.random.Generator) -> Window:
    """A thin line, straight or bent."""
    half = int(1.3 * radius) + 8
    u, v = _axes(half, rng)
    bend = rng.uniform(-0.4, 0.4) / radius
    distance = rng.uniform(0.5, 1.6) - np.abs(v + bend * u * u)
    return np.clip(np.minimum(distance, 1.2 * radius - np.abs(u)) / 0.8 + 0.5, 0, 1)


def branches(radius: float, rng: np.random.Generator) -> Window:
    """A discharge: a trunk with branches."""
    half = int(1.5 * radius) + 8
    canvas = np.zeros((2 * half, 2 * half), np.float32)
    ends = [(np.array([half - radius * 0.9, half]), 0.0, radius * 0.35)]
    turn = rng.uniform(0, 2 * np.pi)
    thick = int(rng.integers(1, 3))
    while ends:
        at, way, length = ends.pop()
        to = at + length * np.array([np.cos(way), np.sin(way)])
        a, b = (half + _turned(p - half, turn) for p in (at, to))
        cv2.line(canvas, tuple(np.int32(a * 8)), tuple(np.int32(b * 8)), 1.0, thick, cv2.LINE_AA, 3)  # type: ignore[arg-type]
        if length > 0.12 * radius:
            for _ in range(int(rng.integers(1, 4))):
                ends.append((to, way + rng.normal(0, 0.6), length * rng.uniform(0.55, 0.9)))
        if len(ends) > 40:
            break
    return np.clip(cv2.GaussianBlur(canvas, (0, 0), 0.6), 0, 1)


def _turned(at: np.ndarray, turn: float) -> np.ndarray:
    return np.array(
        [at[0] * np.cos(turn) - at[1] * np.sin(turn), at[0] * np.sin(turn) + at[1] * np.cos(turn)]
    )


SHAPES = {
    blob: 4, bell: 3, streak: 3, crescent: 2.5, drop: 1.5, cloud: 1.5, corner: 0.8, scratch: 0.7, branches: 0.4,
}  # fmt: skip


def weight(radius: float, rng: np.random.Generator) -> Window:
    """The weight of one mark of a shape drawn by its share."""
    shapes = list(SHAPES)
    share = np.array(list(SHAPES.values()))
    return shapes[rng.choice(len(shapes), p=share / share.sum())](radius, rng).astype(np.float32)
