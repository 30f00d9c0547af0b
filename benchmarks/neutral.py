"""How far off neutral is that is found in photographs alone: `python -m benchmarks.neutral POOL fit|kept`.

POOL as docs/marks.md has it. Rolls are drawn from photographs that were balanced by whoever made them, so the truth is no
offset; places near a photograph's white are left out, since there its makers cut all three layers to one.
"""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np

from benchmarks.photographs import taken
from wetside.stages.positive.neutral import neutral_offsets

WHITE = np.log10(0.85)
STOP = 0.30103


def linear(path: Path) -> np.ndarray:
    """Log exposures (h, 300, 3) of a photograph."""
    picture = cv2.imread(str(path), cv2.IMREAD_COLOR)
    assert picture is not None
    height, width = picture.shape[:2]
    small = (
        cv2.resize(picture, (300, round(300 * height / width)), interpolation=cv2.INTER_AREA)[..., ::-1]
        / 255.0
    )
    light = np.where(small <= 0.04045, small / 12.92, ((small + 0.055) / 1.055) ** 2.4)
    return np.log10(0.95 * light + 0.002)


def main(pool: Path, which: str, draws: int = 40) -> None:
    """Print a table: rolls of 6, 12 and 36; this door's way and the middle of all pictures, root mean square of red and blue."""
    files = {int(path.stem.split("_")[0]): path for path in pool.glob("*.png")}
    photographs = [files[number] for number in taken() if number in files]
    kept = photographs[3::7]
    views = [
        linear(path) for path in (kept if which == "kept" else [p for p in photographs if p not in kept])
    ]
    rng = np.random.default_rng(0)
    print(
        f"| {len(views)} photographs, rolls of | this way, stops | the middle of all pictures |\n|---|---|---|"
    )
    for frames in (6, 12, 36):
        if frames > len(views):
            continue
        off = []
        for _ in range(draws):
            roll = [views[i] for i in rng.choice(len(views), frames, replace=False)]
            there = [(view < WHITE).all(axis=2) for view in roll]
            found, _ = neutral_offsets(roll, there)
            every = np.concatenate([view[seen] for view, seen in zip(roll, there)])
            middle = np.median(every, axis=0)
            off.append([found[[0, 2]], middle[[0, 2]] - middle[1]])
        rms = np.sqrt((np.array(off) ** 2).mean(axis=(0, 2))) / STOP
        print(f"| {frames} | {rms[0]:.2f} | {rms[1]:.2f} |", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
