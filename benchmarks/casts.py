"""Is uneven development found in pictures, and never in even rolls? `python -m benchmarks.casts [rolls]`."""

from __future__ import annotations

import sys

import cv2
import numpy as np

from benchmarks.causes import interval
from benchmarks.planted import KEPT_OUT, negative
from wetside.stages.causes.signs.cast import COLUMNS, ROWS
from wetside.stages.causes.signs.uneven import uneven_profile


def grids(rng: np.random.Generator, photographs: int, greys: int, thin: float) -> np.ndarray:
    """Density above base of a roll's pictures on the grid of a cast, one edge developed less by a share `thin`."""
    frames = []
    for _ in range(photographs):
        density, base, _ = negative(rng, KEPT_OUT)
        frames.append(
            cv2.resize((density - base).astype(np.float32), (COLUMNS, ROWS), interpolation=cv2.INTER_AREA)
        )
    for _ in range(greys):
        card = np.full((ROWS, COLUMNS, 3), rng.uniform(0.2, 0.4), np.float32)
        for i in range(6):
            row, column = 6 + 20 * (i // 3), 5 + 19 * (i % 3)
            card[row : row + 16, column : column + 15] = rng.uniform(0.3, 1.4)
        frames.append(card + rng.normal(0, 0.004, card.shape).astype(np.float32))
    reach = rng.uniform(0.2, 0.45)
    across = (np.arange(ROWS) + 0.5) / ROWS
    fall = 1 - thin * np.clip((reach - across) / reach, 0, 1)
    return np.stack(frames) * fall[None, :, None, None]


def found(rolls: int, seed: int, photographs: int, greys: int, thin: float) -> int:
    """How many of so many rolls are said to be unevenly developed, thinnest at the first edge where one is."""
    rng = np.random.default_rng(seed)
    hits = 0
    for _ in range(rolls):
        profile, _ = uneven_profile(grids(rng, photographs, greys, thin))
        hits += profile is not None and (thin == 0 or profile[0].mean() < 0)
    return hits


def main() -> None:
    """Print the table."""
    rolls = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    print("| roll | even rolls called uneven | one edge thin by 12 % | by 22 % |\n|---|---|---|---|")
    for photographs, greys in ((7, 3), (10, 0)):
        cells = []
        for thin in (0.0, 0.12, 0.22):
            hits = found(rolls, 3, photographs, greys, thin)
            low, high = interval(hits, rolls)
            cells.append(f"{hits / rolls:.2f} ({low:.2f}–{high:.2f})")
        print(f"| {photographs} photographs, {greys} grey cards | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main()
