"""Marks planted in scenes of a third generator, which neither the finder's fit nor its judge saw: `python -m benchmarks.other_scenes [frames]`.

Soft light, cards and flat ground, things that hide each other, clouds of noise; marks as `benchmarks.planted` makes them,
every third frame without any.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import cv2
import numpy as np

from benchmarks.marks import found, frame_of
from benchmarks.planted import negative_of, planted
from wetside.stages.causes.signs.marks import marks_in_frame

TALL, WIDE = 800, 1200


def clouds_of_noise(rng: np.random.Generator) -> np.ndarray:
    """Amplitude falls with frequency to a power of 1.0–1.6; layers partly alike."""
    fall = np.hypot(np.fft.rfftfreq(WIDE)[None], np.fft.fftfreq(TALL)[:, None])
    fall[0, 0] = 1
    slope = rng.uniform(1.0, 1.6)
    layers = []
    for _ in range(3):
        wave = rng.standard_normal((TALL, fall.shape[1])) + 1j * rng.standard_normal((TALL, fall.shape[1]))
        field = np.fft.irfft2(wave * fall**-slope, s=(TALL, WIDE))
        layers.append((field - field.mean()) / field.std())
    fields = np.stack(layers, 2)
    alike = rng.uniform(0.6, 0.95)
    fields = alike * fields.mean(axis=2, keepdims=True) * np.sqrt(3) * 0.9 + (1 - alike) * fields
    return np.clip(0.18 * 2 ** (1.3 * fields), 0.002, 0.9).astype(np.float32)


def things_that_hide(rng: np.random.Generator) -> np.ndarray:
    """350 flat ellipses, boxes and polygons over each other."""
    scene = np.full((TALL, WIDE, 3), 0.2, np.float32)
    for _ in range(350):
        reach = float(np.exp(rng.uniform(np.log(12), np.log(220))))
        own = np.clip(
            0.18 * 2 ** (1.4 * rng.standard_normal() + 0.5 * rng.standard_normal(3)), 0.003, 0.9
        ).tolist()
        x, y, kind = rng.uniform(0, WIDE), rng.uniform(0, TALL), rng.integers(3)
        if kind == 0:
            axes = (int(reach), int(reach * rng.uniform(0.4, 1)))
            cv2.ellipse(
                scene, (int(x), int(y)), axes, float(rng.uniform(0, 180)), 0, 360, own, -1, cv2.LINE_AA
            )
            continue
        if kind == 1:
            turn = float(np.degrees(rng.uniform(0, np.pi)))
            corners = cv2.boxPoints(((x, y), (2 * reach, 2 * reach * rng.uniform(0.3, 1)), turn))
        else:
            angles = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(3, 7))))
            corners = np.stack([x + reach * np.cos(angles), y + reach * np.sin(angles)], 1)
        cv2.fillPoly(scene, [corners.astype(np.int32)], own, cv2.LINE_AA)
    return cv2.GaussianBlur(scene, (0, 0), 1.0)


def soft_light(rng: np.random.Generator) -> np.ndarray:
    """A ramp with two to eleven soft lights on it."""
    y, x = np.mgrid[0 : 1 : TALL * 1j, 0 : 1 : WIDE * 1j].astype(np.float32)
    scene = (
        np.ones((TALL, WIDE, 3), np.float32) * 0.18 * 2 ** (rng.normal(0, 0.5, 3) * 0.4).astype(np.float32)
    )
    scene = scene * (2 ** (rng.normal() * x * 2 + rng.normal() * y * 2))[..., None]
    for _ in range(rng.integers(2, 12)):
        across, down, size = rng.uniform(), rng.uniform(), rng.uniform(0.03, 0.3)
        near = np.exp(-((x - across) ** 2 + (y - down) ** 2) / (2 * size * size))[..., None]
        scene = scene * 2 ** ((rng.normal() * 0.8 + 0.3 * rng.standard_normal(3)) * near)
    return np.clip(scene, 0.002, 0.9).astype(np.float32)


def card(rng: np.random.Generator) -> np.ndarray:
    """Flat ground with one to seven patches of a scale."""
    scene = np.empty((TALL, WIDE, 3), np.float32)
    scene[:] = 0.18 * 2 ** rng.normal(0, 1)
    count = int(rng.integers(1, 8))
    for i in range(count):
        hue = 2 ** (0.2 * rng.standard_normal(3)) if rng.random() < 0.3 else 1
        scene[TALL // 4 : 3 * TALL // 4, WIDE * i // count + 10 : WIDE * (i + 1) // count - 10] = (
            0.02 * 2 ** (5 * i / count) * hue
        )
    return cv2.GaussianBlur(scene, (0, 0), 1.0)


SCENES: tuple[Callable[[np.random.Generator], np.ndarray], ...] = (
    soft_light,
    card,
    things_that_hide,
    clouds_of_noise,
)


def counts(
    make: Callable[[np.random.Generator], np.ndarray], frames: int, seed: int = 7
) -> dict[str, list[int]]:
    """[marks found, planted], [right, claimed], [claimed on frames without any, such frames]."""
    rng = np.random.default_rng(seed)
    recall, precision, clean = [0, 0], [0, 0], [0, 0]
    for number in range(frames):
        plain, base, scale = negative_of(make(rng), rng)
        density, truths = planted(plain, scale, int(rng.integers(0, 7)) if number % 3 else 0, rng)
        marks = marks_in_frame(frame_of(density, base, scale))
        right = [any(found(mark.box, truth.box) for truth in truths) for mark in marks]
        if not truths:
            clean = [clean[0] + len(marks), clean[1] + 1]
        precision = [precision[0] + sum(right), precision[1] + len(right)]
        hits = sum(any(found(mark.box, truth.box) for mark in marks) for truth in truths)
        recall = [recall[0] + hits, recall[1] + len(truths)]
    return {"recall": recall, "precision": precision, "claimed on frames without any": clean}


if __name__ == "__main__":
    for scene in SCENES:
        for what, (part, whole) in counts(scene, int(sys.argv[1]) if len(sys.argv) > 1 else 24).items():
            print(f"| {scene.__name__.replace('_', ' ')}: {what} | {part / max(1, whole):.2f} of {whole} |")
