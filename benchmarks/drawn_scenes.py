"""Scenes that are drawn and not photographed: cards, soft light, things that hide each other, clouds of noise.

Photographs alone teach a finder that a flat shape with a sharp outline is a mark. Here such shapes are things, and
what is added to them is a mark. All are linear light (h, w, 3), 0.001 to 0.9 or so.
"""

from __future__ import annotations

import cv2
import numpy as np

Scene = np.ndarray


def drawn_scene(height: int, width: int, rng: np.random.Generator) -> Scene:
    """A scene of one of the kinds, its edges sometimes soft and its texture sometimes plain."""
    kinds = (hidden_things, clouds, soft_light, card, lines)
    scene = kinds[rng.choice(len(kinds), p=(0.4, 0.2, 0.2, 0.12, 0.08))](height, width, rng)
    if rng.random() < 0.3:
        scene = scene * 2 ** (
            rng.uniform(0.1, 0.6) * clouded(height, width, rng.uniform(0.6, 1.6), rng)[..., :1]
        )
    soft = rng.choice([0.0, 0.5, rng.uniform(0.5, 3)])
    if soft > 0:
        scene = cv2.GaussianBlur(np.ascontiguousarray(scene), (0, 0), float(soft))
    return np.clip(scene, 1e-3, 0.9).astype(np.float32)


def colour(rng: np.random.Generator, spread: float = 1.2) -> np.ndarray:
    """Linear light of a thing: its lightness scatters over stops, its hue less, and often hardly."""
    hue = rng.choice([0.05, 0.3, 0.6])
    return 0.18 * 2 ** (rng.normal(0, spread) + rng.normal(0, hue, 3))


def clouded(height: int, width: int, slope: float, rng: np.random.Generator) -> Scene:
    """Noise whose amplitude falls with frequency to the power `slope`; layers partly alike; scatter about 1."""
    down, across = np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None]
    fall = np.maximum(np.hypot(down, across), 1.0 / max(height, width)) ** -slope
    alike = rng.uniform(0.5, 1.0)
    layers = []
    shared = rng.standard_normal((height, width))
    for _ in range(3):
        white = alike * shared + np.sqrt(1 - alike**2) * rng.standard_normal((height, width))
        field = np.fft.irfft2(np.fft.rfft2(white) * fall, s=(height, width))
        layers.append(field / (field.std() + 1e-9))
    return np.stack(layers, 2)


def clouds(height: int, width: int, rng: np.random.Generator) -> Scene:
    """A field of noise: foliage, water, plaster."""
    return 0.18 * 2 ** (
        rng.uniform(0.3, 1.5) * clouded(height, width, rng.uniform(0.8, 2.0), rng) + rng.normal(0, 0.7)
    )


def soft_light(height: int, width: int, rng: np.random.Generator) -> Scene:
    """A ramp with soft lights and shadows on it: sky, wall, backdrop."""
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    stops = rng.normal(0, 0.8) * x + rng.normal(0, 0.8) * y
    scene = np.repeat(stops[..., None], 3, 2) + rng.normal(0, 0.2, 3)
    for _ in range(int(rng.integers(0, 10))):
        at, size = rng.uniform(-1, 1, 2), rng.uniform(0.08, 0.7)
        near = np.exp(-0.5 * ((x - at[0]) ** 2 + (y - at[1]) ** 2) / size**2)
        scene = scene + near[..., None] * (rng.normal(0, 1) + rng.normal(0, 0.2, 3))
    return 0.18 * 2**scene


def hidden_things(height: int, width: int, rng: np.random.Generator) -> Scene:
    """Things of many sizes that hide each other, plain or shaded, some see-through at their edges, none see-through inside."""
    scene = soft_light(height, width, rng) if rng.random() < 0.5 else np.full((height, width, 3), colour(rng))
    scene = np.ascontiguousarray(scene, np.float32)
    largest = rng.uniform(0.15, 0.5) * height
    spread = rng.choice([0.4, 1.2])
    for _ in range(int(np.exp(rng.uniform(np.log(5), np.log(250))))):
        reach = float(np.exp(rng.uniform(np.log(3), np.log(largest))))
        at = rng.uniform(0, 1, 2) * (width, height)
        cover = _thing(reach, rng)
        _laid(scene, cover, at, colour(rng, spread), rng)
    return scene


def _thing(reach: float, rng: np.random.Generator) -> np.ndarray:
    """Cover 0–1 of an ellipse, a box, a polygon or a bar, on a window of its own."""
    half = int(reach) + 2
    window = np.zeros((2 * half, 2 * half), np.float32)
    at, turn = (half, half), float(rng.uniform(0, 180))
    kind = rng.integers(4)
    if kind == 0:
        axes = (int(reach), max(2, int(reach * rng.uniform(0.3, 1))))
        cv2.ellipse(window, at, axes, turn, 0, 360, 1.0, -1, cv2.LINE_AA)
    elif kind == 1:
        sides = (1.4 * reach, 1.4 * reach * rng.uniform(0.2, 1))
        cv2.fillPoly(window, [cv2.boxPoints((at, sides, turn)).astype(np.int32)], 1.0, cv2.LINE_AA)
    elif kind == 2:
        angles = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 8))))
        corners = half + reach * rng.uniform(0.5, 1, (len(angles), 1)) * np.stack(
            [np.cos(angles), np.sin(angles)], 1
        )
        cv2.fillPoly(window, [corners.astype(np.int32)], 1.0, cv2.LINE_AA)
    else:
        way = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))]) * reach
        ends = [tuple(int(v) for v in half + sign * way) for sign in (-1, 1)]
        cv2.line(window, ends[0], ends[1], 1.0, int(rng.integers(2, 12)), cv2.LINE_AA)
    return window


def _laid(scene: Scene, cover: np.ndarray, at: np.ndarray, own: np.ndarray, rng: np.random.Generator) -> None:
    """Puts a thing over the scene; half of them shaded across."""
    half = cover.shape[0] // 2
    x, y = (int(v) for v in at)
    x0, y0 = max(0, x - half), max(0, y - half)
    x1, y1 = min(scene.shape[1], x + half), min(scene.shape[0], y + half)
    if x1 <= x0 or y1 <= y0:
        return
    part = cover[y0 - y + half : y1 - y + half, x0 - x + half : x1 - x + half, None]
    light = np.ones((y1 - y0, x1 - x0, 1), np.float32)
    if rng.random() < 0.5:
        down, across = np.mgrid[-1 : 1 : (y1 - y0) * 1j, -1 : 1 : (x1 - x0) * 1j]
        light = 2 ** (rng.normal(0, 0.4) * down + rng.normal(0, 0.4) * across)[..., None].astype(np.float32)
    scene[y0:y1, x0:x1] += part * (light * own.astype(np.float32) - scene[y0:y1, x0:x1])


def card(height: int, width: int, rng: np.random.Generator) -> Scene:
    """A card of grey or coloured patches with lines between them, upright or turned."""
    scene = np.full((height, width, 3), colour(rng), np.float32)
    columns, rows = int(rng.integers(1, 8)), int(rng.integers(1, 6))
    gap = rng.uniform(0.01, 0.1)
    for i in range(columns):
        for j in range(rows):
            x0, x1 = (int(width * (i + gap) / columns), int(width * (i + 1 - gap) / columns))
            y0, y1 = (int(height * (j + gap) / rows), int(height * (j + 1 - gap) / rows))
            scene[y0:y1, x0:x1] = colour(rng)
    if rng.random() < 0.5:
        turn = cv2.getRotationMatrix2D(
            (width / 2, height / 2), float(rng.uniform(-15, 15)), float(rng.uniform(0.6, 1.4))
        )
        scene = cv2.warpAffine(scene, turn, (width, height), borderMode=cv2.BORDER_REFLECT)
    return scene


def lines(height: int, width: int, rng: np.random.Generator) -> Scene:
    """Thin lines and strokes over a soft ground: wires, twigs, lettering."""
    scene = np.ascontiguousarray(soft_light(height, width, rng), np.float32)
    for _ in range(int(rng.integers(3, 60))):
        start = rng.uniform(0, 1, 2) * (width, height)
        way = start + np.cumsum(rng.normal(0, 0.1 * height, (int(rng.integers(2, 6)), 2)), 0)
        cv2.polylines(
            scene, [way.astype(np.int32)], False, colour(rng).tolist(), int(rng.integers(1, 6)), cv2.LINE_AA
        )
    return scene
