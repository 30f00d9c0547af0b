"""Marks that stay at one place of every picture, planted in rolls of photographs: `python -m benchmarks.staying POOL 20 SEED [frames…]`.

POOL is the folder of docs/marks.md; its photographs kept from the net's fit are used. A speck (sharp, either sign) or light
(soft, red most) lies at one place of nine in ten frames, or nothing does.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from benchmarks.photographs import split
from wetside.stages.causes.signs.stacked import LONG, Staying, staying, with_soft_light
from wetside.stages.causes.signs.unmoved import counts_of

LIGHT = np.array([1.0, 0.8, 0.6])
SIZES = (0.08, 0.15, 0.25)


@cache
def scene(path: Path) -> np.ndarray:
    """A photograph (h, w, 3), linear."""
    picture = cv2.imread(str(path), cv2.IMREAD_COLOR)[..., ::-1]
    share = 900 / max(picture.shape[:2])
    small = cv2.resize(picture, (0, 0), fx=share, fy=share, interpolation=cv2.INTER_AREA)
    return (small.astype(np.float32) / 255) ** 2.2 * 0.9 + 0.002


def pictures(paths: Sequence[Path], frames: int, rng: np.random.Generator) -> np.ndarray:
    """Densities (frames, h, w, 3) of photographs on an invented stock, each a crop of its own, at the stack's size."""
    gamma, found = rng.uniform(0.44, 0.66, 3), []
    for i in rng.permutation(len(paths))[:frames]:
        own = scene(paths[i])
        tall, wide = own.shape[:2]
        w = min(wide, tall * 1.5) * rng.uniform(0.7, 1.0)
        x, y = rng.uniform(0, wide - w), rng.uniform(0, tall - w / 1.5)
        part = own[int(y) : int(y + w / 1.5), int(x) : int(x + w)][:, :: rng.choice([-1, 1])]
        small = cv2.resize(
            np.ascontiguousarray(part), (LONG, round(LONG / 1.5)), interpolation=cv2.INTER_AREA
        )
        log_h = np.log10(small) + 1.75 + rng.normal(0, 0.15) + rng.normal(0, 0.04, 3)
        density = gamma * 0.22 * np.log1p(np.exp(log_h / 0.22))
        found.append((density + rng.normal(0, 0.006, density.shape)).astype(np.float32))
    return np.stack(found)


def planted(
    own: np.ndarray, size: float, soft: bool, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """The pictures (n, h, w, 3) with a mark [D] on nine in ten, and its place (x, y, reach) on the grid."""
    count, tall, wide = own.shape[:3]
    reach = rng.uniform(0.02, 0.06) * wide if soft else rng.uniform(0.006, 0.015) * wide
    x, y = rng.uniform(0.08, 0.92) * wide, rng.uniform(0.1, 0.9) * tall
    v, u = np.mgrid[0:tall, 0:wide]
    part = np.clip((reach - np.hypot(u - x, v - y)) / (1.4 * reach if soft else 2.0) + 0.5, 0, 1)[..., None]
    mark = part * size * (LIGHT if soft else rng.choice([-1, 1]))
    shows = rng.random(count) < 0.9
    return (own + mark * shows[:, None, None, None]).astype(np.float32), np.array([x, y, reach])


def told(own: np.ndarray) -> list[Staying]:
    """What stays in pictures (n, h, w, 3), as a roll's reading asks it."""
    counts = counts_of(own.mean(axis=3))
    return with_soft_light(staying(own, counts), own, counts)


def rows(paths: Sequence[Path], rolls: int, seed: int, frames: int) -> Iterator[str]:
    """What was claimed on clean rolls, and found of marks by kind and size."""
    made = [pictures(paths, frames, np.random.default_rng([seed, frames, i])) for i in range(rolls)]
    clean = sum(bool(told(own)) for own in made)
    for soft in (False, True):
        cells = []
        for size in SIZES:
            hits = 0
            for i, own in enumerate(made):
                marked, at = planted(
                    own, size, soft, np.random.default_rng([seed, frames, i, int(size * 100)])
                )
                middles = [np.argwhere(one.area).mean(axis=0)[::-1] for one in told(marked)]
                hits += any(np.hypot(*(middle - at[:2])) < at[2] + 3 for middle in middles)
            cells.append(f"{hits} of {rolls}")
        yield f"| {frames} | {'light' if soft else 'speck'} | {' | '.join(cells)} | {clean} of {rolls} |"


def main() -> None:
    """Print the table."""
    _, kept = split(Path(sys.argv[1]))
    rolls, seed = (int(v) for v in (sys.argv[2:4] + ["20", "1"][len(sys.argv[2:4]) :]))
    print(
        "| frames | mark | "
        + " | ".join(f"{size} D" for size in SIZES)
        + " | claimed on clean rolls |\n|---|---|---|---|---|---|"
    )
    for frames in [int(v) for v in sys.argv[4:]] or [6, 9, 20]:
        for row in rows(kept, rolls, seed, frames):
            print(row, flush=True)


if __name__ == "__main__":
    main()
