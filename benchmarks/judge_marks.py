"""Fits what evidence is worth: `python -m benchmarks.judge_marks POOL OUT.npz [frames]`.

The weights are fitted on frames of the photographs that the net was fitted on and of drawn scenes, freshly planted; recall,
precision, marks on frames without any, and whether the worth is a true chance are printed for frames of the photographs
kept from both and of other drawn scenes.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from sklearn.linear_model import LogisticRegression

from benchmarks import crops
from benchmarks.drawn_scenes import drawn_scene
from benchmarks.marks import found, frame_of
from benchmarks.photographs import split
from benchmarks.planted import negative_of, planted
from wetside.figures.place import Rectangle
from wetside.laws.image.layers import half_size
from wetside.stages.causes.signs.candidates import Candidate, apart, candidates
from wetside.stages.causes.signs.marks import place_of


@dataclass(frozen=True)
class Judged:
    """A candidate: its frame, and the truth it meets (None: it is no mark)."""

    frame: int
    candidate: Candidate
    truth: int | None


@dataclass(frozen=True)
class Frames:
    """Candidates of many frames, and how many marks were planted on each."""

    judged: list[Judged]
    planted: list[int]

    @property
    def evidence(self) -> np.ndarray:
        return np.array([one.candidate.signs for one in self.judged], float)

    @property
    def true(self) -> np.ndarray:
        return np.array([one.truth is not None for one in self.judged])


def scene_of(path: Path) -> np.ndarray:
    """A photograph as linear light (h, w, 3)."""
    picture = cv2.imread(str(path), cv2.IMREAD_COLOR)[..., ::-1]
    return (picture.astype(np.float32) / 255) ** 2.2 * 0.9 + 0.002


def judged_frames(files: list[Path], count: int, rng: np.random.Generator) -> Frames:
    """Candidates of frames with none to six marks, half by each of two generators."""
    judged, numbers = list[Judged](), list[int]()
    for number in range(count):
        drawn = rng.random() < crops.DRAWN
        scene = drawn_scene(600, 900, rng) if drawn else scene_of(files[rng.integers(len(files))])
        density, base, scale = negative_of(scene, rng)
        marks = int(rng.integers(0, 7))
        if number % 2:
            density, _, _, marked = crops.planted(density, rng, marks, tall=density.shape[0])
            boxes = [box for box, _ in marked]
        else:
            density, truths = planted(density, scale, marks, rng)
            boxes = [truth.box for truth in truths]
        numbers.append(len(boxes))
        frame = frame_of(np.ascontiguousarray(density, np.float32), base, scale)
        window = Rectangle(0, 0, density.shape[1], density.shape[0])
        half = half_size(frame.density)
        for candidate in candidates(half, np.zeros(half.shape[:2], bool)):
            box = place_of(candidate, frame, window)
            met = [index for index, truth in enumerate(boxes) if found(box, truth)]
            judged.append(Judged(number, candidate, met[0] if met else None))
    return Frames(judged, numbers)


def weights_of(frames: Frames) -> tuple[np.ndarray, float]:
    """Weights and constant of a logistic fit."""
    evidence = frames.evidence
    mean, size = evidence.mean(axis=0), evidence.std(axis=0) + 1e-6
    fit = LogisticRegression(C=0.3, max_iter=800)
    fit.fit((evidence - mean) / size, frames.true)
    weights = fit.coef_[0] / size
    return weights, float(fit.intercept_[0] - weights @ mean)


def figures(frames: Frames, values: np.ndarray, threshold: float) -> tuple[float, float, float]:
    """Recall, precision and marks on a frame without any, of what is worth more than a threshold, the best of each place."""
    answers: list[Judged] = []
    for number in range(len(frames.planted)):
        own = [i for i, one in enumerate(frames.judged) if one.frame == number and values[i] > threshold]
        best = sorted(own, key=lambda i: -values[i])
        kept = {id(candidate) for candidate in apart([frames.judged[i].candidate for i in best])}
        answers += [frames.judged[i] for i in best if id(frames.judged[i].candidate) in kept]
    right = [one for one in answers if one.truth is not None]
    clean = [number for number, count in enumerate(frames.planted) if not count]
    recall = len({(one.frame, one.truth) for one in right}) / max(1, sum(frames.planted))
    on_clean = sum(one.frame in clean for one in answers) / max(1, len(clean))
    return recall, len(right) / max(1, len(answers)), on_clean


def main(pool: Path, out: Path, count: int = 260) -> None:
    fitted_on, kept = split(pool)
    weights, constant = weights_of(judged_frames(fitted_on, count, np.random.default_rng(501)))
    frames = judged_frames(kept, count // 2, np.random.default_rng(502))
    values = 1 / (1 + np.exp(-(frames.evidence @ weights + constant)))
    for threshold in np.arange(0.3, 0.85, 0.05):
        recall, precision, on_clean = figures(frames, values, threshold)
        print(
            f"over {threshold:.2f}: recall {recall:.2f}, precision {precision:.2f}, on clean {on_clean:.2f}"
        )
    for low in np.arange(0, 1, 0.2):
        own = (values >= low) & (values < low + 0.2)
        print(f"worth {low:.1f}–{low + 0.2:.1f}: true {frames.true[own].mean():.2f} of {own.sum()}")
    np.savez(out, weights=weights.astype(np.float32), constant=np.float32(constant))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]) if sys.argv[3:] else 260)
