"""Fits what evidence is worth, on photographs kept from the net: `python -m benchmarks.judge_marks POOL OUT.npz`.

Prints recall and precision at thresholds, each photograph judged by weights fitted without it.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from sklearn.linear_model import LogisticRegression

from benchmarks import crops
from benchmarks.marks import found, frame_of
from benchmarks.photographs import split
from benchmarks.planted import negative_of, planted
from wetside.figures.place import Rectangle
from wetside.stages.causes.marks import Candidate, apart, candidates, place_of

FRAMES = 300


@dataclass(frozen=True)
class Judged:
    """A candidate: its frame and photograph, evidence, and the truth it meets (None: it is no mark)."""

    frame: int
    photograph: str
    candidate: Candidate
    truth: int | None


def judged_frames(files: list[Path], rng: np.random.Generator) -> tuple[list[Judged], int]:
    """Candidates of `FRAMES` frames, half by each of two generators, and how many marks were planted."""
    judged: list[Judged] = []
    total = 0
    for number in range(FRAMES):
        path = files[rng.integers(len(files))]
        picture = cv2.imread(str(path), cv2.IMREAD_COLOR)[..., ::-1]
        scene = (picture.astype(np.float32) / 255) ** 2.2 * 0.9 + 0.002
        density, base, scale = negative_of(scene, rng)
        count = int(rng.integers(0, 7))
        if number % 2:
            density, _, _, marks = crops.planted(density, rng, count, tall=density.shape[0])
            boxes = [box for box, _ in marks]
        else:
            density, truths = planted(density, scale, count, rng)
            boxes = [truth.box for truth in truths]
        total += len(boxes)
        frame = frame_of(np.ascontiguousarray(density, np.float32), base, scale)
        window = Rectangle(0, 0, density.shape[1], density.shape[0])
        for candidate in candidates(frame.density, np.zeros(density.shape[:2], bool)):
            box = place_of(candidate, frame, window)
            met = [index for index, truth in enumerate(boxes) if found(box, truth)]
            judged.append(Judged(number, path.name, candidate, met[0] if met else None))
    return judged, total


def weights_of(judged: list[Judged]) -> tuple[np.ndarray, float]:
    """Weights and constant of a logistic fit."""
    evidence = np.array([one.candidate.evidence for one in judged], float)
    mean, size = evidence.mean(axis=0), evidence.std(axis=0) + 1e-6
    fit = LogisticRegression(C=0.3, max_iter=800)
    fit.fit((evidence - mean) / size, [one.truth is not None for one in judged])
    weights = fit.coef_[0] / size
    return weights, float(fit.intercept_[0] - weights @ mean)


def values_left_out(judged: list[Judged], parts: int = 6) -> np.ndarray:
    """Worth of each candidate by weights fitted without its photograph."""
    names = sorted({one.photograph for one in judged})
    values = np.zeros(len(judged))
    for part in range(parts):
        left = set(names[part::parts])
        weights, constant = weights_of([one for one in judged if one.photograph not in left])
        for index, one in enumerate(judged):
            if one.photograph in left:
                values[index] = 1 / (1 + np.exp(-(one.candidate.evidence @ weights + constant)))
    return values


def figures(judged: list[Judged], values: np.ndarray, total: int, threshold: float) -> tuple[float, float]:
    """Recall and precision of what is worth more than a threshold, the best of each place."""
    answers: list[Judged] = []
    for number in range(FRAMES):
        own = [i for i, one in enumerate(judged) if one.frame == number and values[i] > threshold]
        best = sorted(own, key=lambda i: -values[i])
        kept = {id(candidate) for candidate in apart([judged[i].candidate for i in best])}
        answers += [judged[i] for i in best if id(judged[i].candidate) in kept]
    right = [one for one in answers if one.truth is not None]
    recall = len({(one.frame, one.truth) for one in right}) / max(1, total)
    return recall, len(right) / max(1, len(answers))


def main(pool: Path, out: Path) -> None:
    judged, total = judged_frames(split(pool)[1], np.random.default_rng(21))
    values = values_left_out(judged)
    for threshold in np.arange(0.3, 0.85, 0.05):
        recall, precision = figures(judged, values, total, threshold)
        print(f"over {threshold:.2f}: recall {recall:.2f}, precision {precision:.2f}")
    weights, constant = weights_of(judged)
    np.savez(out, weights=weights.astype(np.float32), constant=np.float32(constant))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
