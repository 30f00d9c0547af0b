"""What is left of a stain that adds, once the reading's cast is taken off: `python -m benchmarks.additive [rolls a cell] [seed]`.

Photographs in four gauges by the scanner model of `rolls`; a stain across the film over pictures and rebate alike, of three
shapes that the reading does not know, 0.03 to 0.15 D from edge to edge in its strongest layer.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from benchmarks.rolls import SCALE, Laid, Setting, roll
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.place import Rectangle
from wetside.figures.reading import Cast

#: Density over the picture's height, 0 at its top to 1 at its bottom; beyond it the stain goes on.
SHAPES = {
    "a straight slope": lambda across: across - 0.5,
    "one edge": lambda across: np.exp(-np.maximum(across + 0.1, 0) / 0.3),
    "the middle": lambda across: np.exp(-((across - 0.5) ** 2) / 0.08),
}
ACROSS = np.linspace(0.05, 0.95, 19)


@dataclass
class Row:
    """Over some rolls: what is left [D] in the worst layer and place where an additive cast was claimed, and what was claimed."""

    left: list[float] = field(default_factory=list)
    planted: list[float] = field(default_factory=list)
    claimed: list[str] = field(default_factory=list)


def stain(shape: str, size: np.ndarray) -> Laid:
    """Lays a stain of a shape and size (3,) [D] over a frame."""

    def laid(density: np.ndarray, base: np.ndarray, picture: Rectangle, px: float) -> np.ndarray:
        across = (np.arange(len(density)) + 0.5 - picture.y) / picture.h
        added = SHAPES[shape](across)[:, None, None] * size
        return (density + added).astype(np.float32)

    return laid


def left_of(cast: Cast, true: np.ndarray) -> float:
    """The most [D] that a stain (n, 3) leaves over the picture once a cast's profile is taken off; means are the base's."""
    at = np.array([point.across for point in cast.profile])
    taken = np.stack([np.interp(ACROSS, at, [p.density[c] for p in cast.profile]) for c in range(3)], axis=1)
    away = taken - true
    return float(np.abs(away - away.mean(axis=0)).max())


def study(shape: str, gate: bool, rolls: int, seed: int) -> Row:
    """Rolls of one shape, read; the gauges in turn."""
    row, rng = Row(), np.random.default_rng(seed)
    for number in range(rolls):
        gauge = list(SCALE)[(seed + number) % 4]
        setting = Setting(gauge, gate=gate, falloff=rng.uniform(0.02, 0.15), fine=0.5 * SCALE[gauge])
        size = rng.choice([-1, 1]) * rng.uniform(0.03, 0.15) * np.append(rng.uniform(0.2, 1.0, 2), 1.0)
        with tempfile.TemporaryDirectory() as place:
            roll(Path(place), setting, seed + number, stain(shape, size))
            cast = read(Path(place), ReadOptions(gauge=gauge, marks=False)).cast
        true = SHAPES[shape](ACROSS)[:, None] * size
        row.planted.append(float(np.ptp(true, axis=0).max()))
        row.claimed.append(str(cast.kind) if cast.found else "none")
        if cast.found and cast.kind == "additive":
            row.left.append(left_of(cast, true))
    return row


def main() -> None:
    """Print the table."""
    rolls, seed = (int(v) for v in (sys.argv[1:3] + ["4", "1"][len(sys.argv) - 1 :]))
    print(
        "| stain | open gate | claimed additive | planted, median | left, median / most |\n|---|---|---|---|---|"
    )
    for shape in SHAPES:
        for gate in (True, False):
            row = study(shape, gate, rolls, seed)
            left = f"{np.median(row.left):.3f} / {max(row.left):.3f}" if row.left else "–"
            other = ", ".join(sorted({kind for kind in row.claimed if kind != "additive"}))
            named = f"{len(row.left)} of {rolls}" + (f" (else {other})" if other else "")
            print(
                f"| {shape} | {'yes' if gate else 'no'} | {named} | {np.median(row.planted):.3f} | {left} |"
            )


if __name__ == "__main__":
    main()
