"""Plumes at the perforations, planted in rolls of photographs: `python -m benchmarks.plumes POOL 20 SEED [frames…]`.

POOL is the folder of docs/marks.md; its photographs kept from the net's fit are used. Pictures are 36 mm long with a hole every
4.75 mm; soft plumes of 1.5 to 2.8 mm lie beside a share of the holes along one edge, grow with density or are added, or
nothing does.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from benchmarks.photographs import split
from benchmarks.staying import pictures
from wetside.stages.causes.signs.at_few_holes import at_few_holes
from wetside.stages.causes.signs.at_holes import AtHoles, Holes, at_holes
from wetside.stages.causes.signs.stacked import LONG
from wetside.stages.causes.signs.unmoved import counts_of

PITCH, CELL = 4.75 / 36 * LONG, 36 / LONG
#: Share of the holes, and how much denser beside them, as a share; whether it grows with density, or is added to 0.7 D.
CASES = ((1.0, 0.05, True), (1.0, 0.1, True), (0.7, 0.2, True), (0.5, 0.2, True), (0.2, 0.25, True), (0.1, 0.25, True), (0.2, 0.15, True), (1.0, 0.1, False), (1.0, 0.2, False))  # fmt: skip


def planted(
    own: np.ndarray, hole: float, case: tuple[float, float, bool], below: bool, rng: np.random.Generator
) -> np.ndarray:
    """Pictures (n, h, w, 3) [D above base] with plumes beside holes, each of its own strength."""
    share, more, grows = case
    count, tall, wide = own.shape[:3]
    reach = rng.uniform(0.6, 1.1) / CELL
    v, u = np.mgrid[0:tall, 0:wide]
    down = (tall - 0.5 - v if below else v + 0.5) / 2.5
    found = own.copy()
    for picture in found:
        holes = np.arange(hole - PITCH, wide + PITCH, PITCH)
        for at in holes[rng.random(len(holes)) < share]:
            part = np.clip((reach - np.hypot(u - at, down)) / reach + 0.5, 0, 1)[..., None]
            picture += part * more * rng.uniform(0.6, 1.4) * (picture if grows else 0.7)
    return found


def told_of(pictures: Sequence[np.ndarray], hole: float, counts: np.ndarray) -> list[AtHoles]:
    """What comes with most holes, and along the edges where nothing does, with a few."""
    own = [Holes(one, PITCH, hole) for one in pictures]
    found = at_holes(own, counts)
    known = {one.below for one in found}
    return [*found, *at_few_holes(own, PITCH * CELL, counts, [e for e in (False, True) if e not in known])]


def rows(paths: Sequence[Path], rolls: int, seed: int, frames: int) -> Iterator[str]:
    """What was found along the right edge, told to grow or not, and claimed along the other one, by case; and of clean rolls."""
    made = []
    for i in range(rolls):
        rng = np.random.default_rng([seed, frames, i])
        made.append((pictures(paths, frames, rng), rng.uniform(0, PITCH), rng))
    counts = [counts_of(own.mean(axis=3)) for own, _, _ in made]
    began = time.process_time()
    clean = sum(len(told_of(own, hole, count)) for (own, hole, _), count in zip(made, counts))  # fmt: skip
    took = 1000 * (time.process_time() - began) / rolls / frames
    yield f"| {frames} | none | {clean} claimed on {rolls} rolls | – | {took:.1f} ms |"
    for case in CASES:
        hits = false = right = wrong = 0
        took = 0.0
        for i, ((own, hole, rng), count) in enumerate(zip(made, counts)):
            marked = planted(own, hole, case, bool(i % 2), rng)
            began = time.process_time()
            told = told_of(marked, hole, count)
            took += 1000 * (time.process_time() - began) / rolls / frames
            there = [one for one in told if one.below == bool(i % 2)]
            hits, false = hits + len(there), false + len(told) - len(there)
            right += sum(one.grows is case[2] for one in there)
            wrong += sum(one.grows is (not case[2]) for one in there)
        kind = "with density" if case[2] else "added"
        yield f"| {frames} | {case[0]:.0%} of the holes, {case[1]:.0%} {kind} | {hits} of {rolls}, {false} elsewhere | {right} right, {wrong} wrong | {took:.1f} ms |"


def main() -> None:
    """Print the table."""
    _, kept = split(Path(sys.argv[1]))
    rolls, seed = (int(v) for v in (sys.argv[2:4] + ["20", "1"][len(sys.argv[2:4]) :]))
    print("| frames | plumes | found | grows with density, told | CPU a frame |\n|---|---|---|---|---|")  # fmt: skip
    for frames in [int(v) for v in sys.argv[4:]] or [6, 12, 36]:
        for row in rows(kept, rolls, seed, frames):
            print(row, flush=True)


if __name__ == "__main__":
    main()
