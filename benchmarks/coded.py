"""Marks in gamma-coded files of four makings, by codes and by the logarithm of light: `python -m benchmarks.coded POOL [frames] [seed]`.

Photographs kept from every fit, three marks a frame, 1500 × 1000 pixels, JPEG of quality 92: a plain negative; turned round
by density; turned round as codes, from white less what the negative's are; printed, with a log-log slope of 1.6.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np

from benchmarks.first_look import SIZE
from benchmarks.judge_marks import scene_of
from benchmarks.marks import found
from benchmarks.photographs import split
from benchmarks.planted import negative_of, planted
from wetside.figures.density import DensityFrame
from wetside.stages.causes.signs.beside_roll import claimed
from wetside.stages.causes.signs.codes import in_codes
from wetside.stages.causes.signs.marks import searched
from wetside.stages.causes.signs.perhaps import Searched
from wetside.stages.negative.found.film import density_frame
from wetside.stages.negative.found.shown import FilmOfFrame
from wetside.stages.negative.scanner.working import light_of, working
from wetside.store.scans.load import load

Box = tuple[int, int, int, int]
NOISE = 0.004  # of the codes' span
Frames = list[tuple[Searched, list[Box]]]


def turned_as_codes(above: np.ndarray) -> np.ndarray:
    """Codes (h, w, 3) of density above base: white less the negative's own, stretched to black."""
    codes = 10 ** (-above / 2.2)
    black = np.percentile(codes, 0.5)
    return np.asarray(1 - (codes - black) / (1 - black))


MAKINGS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "a plain negative": lambda above: 10 ** (-(1.3 * above + 0.8) / 2.2),
    "turned round by density": lambda above: np.maximum(above / 1.6, 0) ** (1 / 1.3),
    "turned round as codes": turned_as_codes,
    "printed": lambda above: 10 ** ((above - 1.3) * 1.6 / 2.2),
}


def frames_of(pool: Path, making: str, count: int, seed: int) -> Iterator[tuple[DensityFrame, list[Box]]]:
    """Frames as read from files, the whole of each a picture, and the boxes of their marks."""
    rng, kept = np.random.default_rng(seed), split(pool)[1]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "scan.jpg"
        for number in range(count):
            density, base, scale = negative_of(scene_of(kept[number % len(kept)]), rng)
            density, truths = planted(density, scale, 3, rng)
            codes = cv2.resize(
                MAKINGS[making](density - base).astype(np.float32), SIZE, interpolation=cv2.INTER_CUBIC
            )
            codes = np.clip(codes, 0, 1) + rng.normal(0, NOISE, codes.shape)
            cv2.imwrite(
                str(file),
                np.clip(255 * codes, 0, 255).astype(np.uint8)[..., ::-1],
                [cv2.IMWRITE_JPEG_QUALITY, 92],
            )
            frame = working(load(file), light_of(None, None, None))
            tall, wide = frame.kept.shape[:2]
            film = FilmOfFrame((0.0, 0.0, float(wide), float(tall)), False, None, None)
            larger = np.array([SIZE[0] / density.shape[1], SIZE[1] / density.shape[0]] * 2)
            boxes = [tuple(int(v) for v in np.round(truth.box * larger)) for truth in truths]
            yield density_frame(frame, film, None, number + 1, None), boxes  # type: ignore[misc]


def figures(frames: Frames) -> str:
    """Recall and precision of what is claimed of a roll of frames."""
    met = right = count = 0
    for seen, (_, boxes) in zip(claimed([seen for seen, _ in frames]), frames, strict=True):
        met += sum(any(found(mark.box, box) for mark in seen.marks) for box in boxes)
        right += sum(any(found(mark.box, box) for box in boxes) for mark in seen.marks)
        count += len(seen.marks)
    return f"{met / sum(len(boxes) for _, boxes in frames):.2f} at {right / max(1, count):.2f} of {count}"


def main(pool: Path, count: int = 32, seed: int = 9) -> None:
    print("| files | by codes: recall, precision | by the logarithm of light |\n|---|---|---|")
    for making in MAKINGS:
        by_codes, by_light = Frames(), Frames()
        for frame, boxes in frames_of(pool, making, count, seed):
            by_codes.append((searched(in_codes(frame)), boxes))
            by_light.append((searched(frame), boxes))
        print(f"| {making} | {figures(by_codes)} | {figures(by_light)} |", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), *(int(word) for word in sys.argv[2:]))
