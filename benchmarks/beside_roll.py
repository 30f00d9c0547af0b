"""Marks of one roll, most of one kind: `python -m benchmarks.beside_roll [rolls] [seed] [POOL]`.

What one cause leaves on a roll is alike: of one sign, in the same layers, of like sharpness. Rolls of twelve frames of
photographs, two in five without a mark; on the others so many marks a frame as one cause leaves, or three a frame on two
neighbours alone, a tenth of them strays. Without POOL the photographs are the study's own four (`planted.KEPT_OUT`), whose
things come again on a roll as in no camera. With it they are those that no net saw: the weights of
`stages/causes/signs/beside_roll.py` are fitted on rolls of every other one, and the table is of rolls of the rest.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from sklearn.linear_model import LogisticRegression

from benchmarks.judge_marks import scene_of
from benchmarks.marks import found, frame_of
from benchmarks.photographs import split
from benchmarks.planted import KEPT_OUT, SHAPES, negative_of, overlap, weight_of
from wetside.figures.reading import Mark
from wetside.stages.causes.signs.beside_roll import (
    TAKEN,
    chances_beside_roll,
    claimed_alone,
    signs_beside_roll,
)
from wetside.stages.causes.signs.marks import searched
from wetside.stages.causes.signs.perhaps import Searched

FRAMES, STRAYS, CLEAN, CLOSE = 12, 0.1, 0.4, 0.3
Box = tuple[int, int, int, int]


@dataclass(frozen=True)
class Cause:
    """What a roll's cause leaves: signed share of each layer (3,), middle size [D], shapes, marks on each frame in the mean."""

    layers: np.ndarray
    size: float
    shapes: tuple[str, ...]
    often: np.ndarray


@dataclass(frozen=True)
class Roll:
    """What the search found in each frame by itself, and the boxes of what was planted there."""

    seen: list[Searched]
    planted: list[list[Box]]

    @property
    def clean(self) -> bool:
        return not any(self.planted)

    def true(self) -> np.ndarray:
        """Whether each place that was handed on is a mark (n,)."""
        pairs = zip(self.seen, self.planted, strict=True)
        return np.array(
            [any(found(one.box, box) for box in own) for seen, own in pairs for one in seen.perhaps], bool
        )


def cause_of(rng: np.random.Generator) -> Cause:
    """Half of the causes reach all layers alike, half one most; one in three leaves soft marks."""
    layers = np.ones(3) if rng.random() < 0.5 else np.eye(3)[rng.integers(3)] + rng.uniform(0, 0.4, 3)
    size = float(np.exp(rng.uniform(np.log(0.07), np.log(0.25))))
    shapes = ("soft",) if rng.random() < 1 / 3 else tuple(shape for shape in SHAPES if shape != "soft")
    often = np.full(FRAMES, rng.choice([0.5, 1.0, 2.0]))
    if rng.random() < CLOSE:
        first = int(rng.integers(FRAMES - 1))
        often = np.where(np.isin(np.arange(FRAMES), (first, first + 1)), 3.0, 0.0)
    return Cause(layers / layers.max() * rng.choice([-1, 1]), size, shapes, often)


def marked_by(
    cause: Cause, count: int, density: np.ndarray, px_per_mm: float, rng: np.random.Generator
) -> tuple[np.ndarray, list[Box]]:
    """A frame's density with so many marks, whose sizes scatter by a third, and their boxes."""
    boxes: list[Box] = []
    for _ in range(count):
        stray = rng.random() < STRAYS
        shape = str(rng.choice(SHAPES if stray else cause.shapes))
        weight = weight_of(density.shape[:2], px_per_mm, shape, rng)
        rows, columns = np.nonzero(weight > 0.5)
        if len(rows) < 30:
            continue
        box = int(columns.min()), int(rows.min()), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1
        if any(overlap(box, other) > 0 for other in boxes):
            continue
        layers = cause_of(rng).layers if stray else cause.layers
        delta = layers * max(0.055, cause.size * np.exp(rng.normal(0, 0.33)))
        density = density + weight[..., None] * delta.astype(np.float32)
        boxes.append(box)
    return np.maximum(density, 0).astype(np.float32), boxes


def roll_of(files: Sequence[Path], rng: np.random.Generator) -> Roll:
    """A roll, its frames searched one by one."""
    cause = None if rng.random() < CLEAN else cause_of(rng)
    seen, planted = list[Searched](), list[list[Box]]()
    for number in range(FRAMES):
        scene = scene_of(files[int(rng.integers(len(files)))]) if files else None
        density, base, scale = negative_of(scene, rng, KEPT_OUT)
        boxes: list[Box] = []
        if cause is not None:
            density, boxes = marked_by(cause, int(rng.poisson(cause.often[number])), density, scale, rng)
        seen.append(searched(frame_of(np.ascontiguousarray(density, np.float32), base, scale)))
        planted.append(boxes)
    return Roll(seen, planted)


Claims = Callable[[Sequence[Searched]], list[list[Mark]]]


def alone(roll: Sequence[Searched]) -> list[list[Mark]]:
    """What each frame claims of which nothing else is known."""
    return [list(claimed_alone(seen).marks) for seen in roll]


def together(taken: float) -> Claims:
    """What frames claim beside the whole roll, from a chance on."""

    def claims(roll: Sequence[Searched]) -> list[list[Mark]]:
        chances = chances_beside_roll(roll)
        return [
            [one for one, chance in zip(seen.perhaps, own, strict=True) if chance > taken]
            for seen, own in zip(roll, chances, strict=True)
        ]

    return claims


def row(name: str, rolls: Sequence[Roll], claims: Claims) -> str:
    """Recall, precision and marks on a frame of a clean roll, as a line of a table."""
    met = right = count = planted = mistaken = clean = 0
    for roll in rolls:
        for marks, boxes in zip(claims(roll.seen), roll.planted, strict=True):
            hits = [{i for i, box in enumerate(boxes) if found(mark.box, box)} for mark in marks]
            met, planted = met + len(set[int]().union(*hits)), planted + len(boxes)
            right, count = right + sum(bool(hit) for hit in hits), count + len(marks)
            if roll.clean:
                mistaken, clean = mistaken + len(marks), clean + 1
    return (
        f"| {name} | {met / max(1, planted):.2f} of {planted} | {right / max(1, count):.2f} of {count} "
        f"| {mistaken} on {clean} frames |"
    )


def fitted(rolls: Sequence[Roll]) -> str:
    """The weights that these rolls give."""
    signs = np.vstack([signs_beside_roll(roll.seen) for roll in rolls])
    true = np.concatenate([roll.true() for roll in rolls])
    fit = LogisticRegression(max_iter=500).fit(signs[:, :-1], true)
    weights = ", ".join(f"{weight:.2f}" for weight in (*fit.coef_[0], fit.intercept_[0]))
    return f"weights of {len(true)} places, {int(true.sum())} of them marks: {weights}"


def rolls_of(count: int, files: Sequence[Path], rng: np.random.Generator) -> list[Roll]:
    return [roll_of(files, rng) for _ in range(count)]


def main(count: int = 40, seed: int = 7702, pool: Path | None = None) -> None:
    rng = np.random.default_rng(seed)
    files = split(pool)[1] if pool else []
    if files:
        print(fitted(rolls_of(count, files[::2], rng)))
    rolls = rolls_of(count, files[1::2], rng)
    print("| marks claimed | recall | precision | on clean rolls |\n|---|---|---|---|")
    print(row("each frame alone", rolls, alone))
    for taken in sorted({TAKEN, 0.3, 0.5, 0.6}):
        print(row(f"beside the roll, from {taken}", rolls, together(taken)))


if __name__ == "__main__":
    words = sys.argv[1:]
    main(*(int(word) for word in words[:2]), *(Path(word) for word in words[2:]))
