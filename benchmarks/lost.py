"""Where planted marks are lost on their way to an answer: `python -m benchmarks.lost POOL [frames]`.

On the photographs kept from the fit, by kind and size of mark: the share under which the net's median log-odds are over −3,
the share that some measured candidate meets, that a candidate of a worth over one half meets, and that is answered.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from pathlib import Path

import cv2
import numpy as np

from benchmarks.judge_marks import scene_of
from benchmarks.marks import found, frame_of
from benchmarks.photographs import split
from benchmarks.planted import Truth, negative_of, planted
from wetside.figures.place import Rectangle
from wetside.laws.image.layers import half_size
from wetside.stages.causes.signs.candidates import candidates_in, worth
from wetside.stages.causes.signs.chance import chance_of_marks
from wetside.stages.causes.signs.marks import marks_in_frame, place_of

STAGES = ("net over −3", "a candidate", "worth over 0.5", "answered")


def groups_of(truth: Truth, pixels: int) -> tuple[str, ...]:
    """The rows of the table that a mark counts in."""
    size = float(np.abs(truth.delta).max())
    layers = "one layer" if (np.abs(truth.delta) > 0.2 * size).sum() == 1 else "all layers"
    band = "0.05–0.08 D" if size < 0.08 else "0.08–0.15 D" if size < 0.15 else "over 0.15 D"
    large = "under 300 px" if pixels < 300 else "300–1200 px" if pixels < 1200 else "over 1200 px"
    return "all", layers, band, large, truth.shape


def stages_of_frame(scene: np.ndarray, rng: np.random.Generator) -> list[tuple[tuple[str, ...], np.ndarray]]:
    """For each planted mark its groups and which stages (4,) it passed."""
    clean, base, scale = negative_of(scene, rng)
    density, truths = planted(clean, scale, int(rng.integers(0, 7)), rng)
    half = half_size(density)
    chance = chance_of_marks(half)
    size = (chance.odds.shape[1], chance.odds.shape[0])
    measured = candidates_in(chance, half)
    frame = frame_of(density, base, scale)
    window = Rectangle(0, 0, density.shape[1], density.shape[0])
    boxes = [place_of(one, frame, window) for one in measured]
    values = worth(measured)
    answers = [mark.box for mark in marks_in_frame(frame)]
    rows = []
    for truth in truths:
        x, y, w, h = truth.box
        own = np.zeros(density.shape[:2], np.uint8)
        own[y : y + h, x : x + w] = ((density - clean) @ truth.delta / (truth.delta @ truth.delta))[
            y : y + h, x : x + w
        ] > 0.5
        under = chance.odds[cv2.resize(own, size, interpolation=cv2.INTER_AREA) > 0]
        met = [value for value, box in zip(values, boxes, strict=True) if found(box, truth.box)]
        passed = (
            len(under) > 0 and np.median(under) > -3,
            len(met) > 0,
            max(met, default=0) > 0.5,
            any(found(box, truth.box) for box in answers),
        )
        rows.append((groups_of(truth, int(own.sum())), np.array(passed, float)))
    return rows


def main(pool: Path, frames: int = 80) -> None:
    kept = split(pool)[1]
    rng = np.random.default_rng(1234)
    table: dict[str, list[np.ndarray]] = defaultdict(list)
    for _ in range(frames):
        for groups, passed in stages_of_frame(scene_of(kept[rng.integers(len(kept))]), rng):
            for group in groups:
                table[group].append(passed)
    print("| marks |", " | ".join(STAGES), "|")
    for group, rows in table.items():
        shares = " | ".join(f"{share:.2f}" for share in np.mean(rows, axis=0))
        print(f"| {group} ({len(rows)}) | {shares} |")


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if sys.argv[2:] else 80)
