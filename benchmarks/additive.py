"""What is left of a stain that adds, once the reading's cast is taken off: `python -m benchmarks.additive [rolls a cell] [seed] [shape, or lengths]`.

Photographs in four gauges by the scanner model of `rolls`; a stain across the film over pictures and unexposed film alike, of
shapes that the reading does not know, 0.03 to 0.15 D from edge to edge in its strongest layer. Below them what must not pass
for a stain: film that is even, development that is not, light that reached the gaps between the frames alone.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from benchmarks.lengths import Laid as Lies
from benchmarks.lengths import length
from benchmarks.rolls import SCALE, Laid, Setting, picture_of, roll
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.place import Rectangle
from wetside.figures.reading import Cast
from wetside.store.scans.originals import write_tiff16

#: Density over the picture's height, 0 at its top to 1 at its bottom; beyond it the stain goes on.
SHAPES = {
    "a straight slope": lambda across: across - 0.5,
    "one edge": lambda across: np.exp(-np.maximum(across + 0.1, 0) / 0.3),
    "the middle": lambda across: np.exp(-((across - 0.5) ** 2) / 0.08),
    "two humps": lambda across: 0.5 * np.sin(9 * across + 0.7) * (1 - 0.3 * across),
    "a narrow edge": lambda across: np.exp(-np.maximum(1.1 - across, 0) / 0.12),
    "none": lambda across: 0 * across,
}
OTHER = {"uneven": "the upper edge developed 22 % less", "gaps": "light on the gaps alone"}
#: How the scans show it: changes of the setting, and whether they show the next picture, dust and the film's own grain.
SHOWN: dict[str, tuple[dict[str, Any], bool]] = {
    "open gate": ({}, False),
    "next picture, dust, print": ({"printed": True}, True),
    "skewed 1°, flare 2 %": ({"skew": 1.0, "flare": 0.02, "skirt": 0.5}, False),
    "gaps hidden": ({"hidden": ("left", "right")}, False),
    "no open gate": ({"gate": False}, False),
}
ACROSS = np.linspace(0.05, 0.95, 19)


@dataclass
class Row:
    """Over some rolls: what is left [D] in the worst layer and place where an additive cast was claimed, and what was claimed."""

    left: list[float] = field(default_factory=list)
    planted: list[float] = field(default_factory=list)
    claimed: list[str] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)

    def take(self, cast: Cast, true: np.ndarray) -> None:
        """One roll's cast against its true stain (n, 3) [D] at `ACROSS`."""
        self.planted.append(float(np.ptp(true, axis=0).max()))
        self.claimed.append(str(cast.kind) if cast.found else "none")
        if cast.found and cast.kind == "additive":
            self.left.append(left_of(cast, true))
            self.inside.append(self.left[-1] <= float(cast.remains or 0.0))


def stain(shape: str, size: np.ndarray) -> Laid:
    """Lays a stain of a shape and size (3,) [D] over a frame."""

    def laid(density: np.ndarray, base: np.ndarray, picture: Rectangle, px: float) -> np.ndarray:
        across = (np.arange(len(density)) + 0.5 - picture.y) / picture.h
        added = SHAPES[shape](across)[:, None, None] * size
        return (density + added).astype(np.float32)

    return laid


def worn(setting: Setting, seed: int, then: Laid) -> Laid:
    """Lays the picture of the frame that follows, dust and hairs over all, and grain on the film; then what else lies there."""
    rng = np.random.default_rng(seed)

    def laid(density: np.ndarray, base: np.ndarray, picture: Rectangle, px: float) -> np.ndarray:
        x, y, w, h = picture
        first = x + w + round(0.6 * px)
        density[y : y + h, first:] = base + picture_of(setting, h, w, rng)[:, : density.shape[1] - first]
        density = density + 0.004 * rng.standard_normal(density.shape)
        tall, wide = density.shape[:2]
        dirt = np.zeros((tall, wide), np.uint8)
        for _ in range(25):
            at = int(rng.integers(0, wide)), int(rng.integers(0, tall))
            to = tuple(int(v + rng.normal(0, 0.4 * px)) for v in at)
            cv2.line(dirt, at, to, 255, max(1, round(rng.uniform(0.02, 0.06) * px)))
        density = density + 0.5 * cv2.GaussianBlur(dirt, (0, 0), 1)[..., None] / 255.0
        return then(density.astype(np.float32), base, picture, px)

    return laid


def uneven(thin: float, reach: float) -> Laid:
    """Develops the upper edge less by a share `thin`, over `reach` of the picture's height."""

    def laid(density: np.ndarray, base: np.ndarray, picture: Rectangle, px: float) -> np.ndarray:
        across = ((np.arange(len(density)) + 0.5 - picture.y) / picture.h)[:, None, None]
        return (density - (density - base) * thin * np.clip((reach - across) / reach, 0, 1)).astype(
            np.float32
        )

    return laid


def light_in_gaps(size: np.ndarray) -> Laid:
    """Fogs the gaps beside the picture alone, most in their middle, by a size (3,) [D]."""

    def laid(density: np.ndarray, base: np.ndarray, picture: Rectangle, px: float) -> np.ndarray:
        across = (np.arange(len(density)) + 0.5 - picture.y) / picture.h
        added = SHAPES["the middle"](across)[:, None, None] * np.abs(size)
        density = density.copy()
        density[:, : picture.x] += added
        density[:, picture.x + picture.w :] += added
        return density.astype(np.float32)

    return laid


def left_of(cast: Cast, true: np.ndarray) -> float:
    """The most [D] that a stain (n, 3) leaves over the picture once a cast's profile is taken off; means are the base's."""
    at = np.array([point.across for point in cast.profile])
    taken = np.stack([np.interp(ACROSS, at, [p.density[c] for p in cast.profile]) for c in range(3)], axis=1)
    away = taken - true
    return float(np.abs(away - away.mean(axis=0)).max())


def study(shape: str, shown: str, rolls: int, seed: int, other: str = "") -> Row:
    """Rolls of one shape, read; the gauges in turn. `other`: what else, or instead of it, is wrong with the film."""
    row, rng = Row(), np.random.default_rng(seed)
    change, dirty = SHOWN[shown]
    for number in range(rolls):
        gauge = list(SCALE)[(seed + number) % 4]
        fine = (0.7 if dirty else 0.5) * SCALE[gauge]
        setting = replace(Setting(gauge, falloff=rng.uniform(0.02, 0.15), fine=fine), **change)
        size = rng.choice([-1, 1]) * rng.uniform(0.03, 0.15) * np.append(rng.uniform(0.2, 1.0, 2), 1.0)
        lays = stain(shape, size)
        if other == "uneven":
            first, second = uneven(0.22, 0.4), lays
            lays = lambda *frame: second(first(*frame), *frame[1:])  # noqa: E731, B023
        elif other == "gaps":
            lays = light_in_gaps(size)
        with tempfile.TemporaryDirectory() as place:
            roll(Path(place), setting, seed + number, worn(setting, seed + number, lays) if dirty else lays)
            cast = read(Path(place), ReadOptions(gauge=gauge, marks=False)).cast
        true = SHAPES[shape](ACROSS)[:, None] * size
        row.take(cast, true)
    return row


def in_lengths(shape: str, files: int, seed: int) -> Row:
    """Five frames in one file by the generator of `lengths`, with an even light as their open gate; three gauges in turn."""
    row, rng = Row(), np.random.default_rng(seed)
    light, dark = np.array([0.85, 0.9, 0.82]) * 62000, 25
    for number in range(files):
        gauge = ("135", "16still", "110")[number % 3]
        known = length(Lies(gauge), seed + number)
        size = rng.choice([-1, 1]) * rng.uniform(0.03, 0.15) * np.append(rng.uniform(0.2, 1.0, 2), 1.0)
        picture = known.pictures[0]
        across = (np.arange(len(known.pixels)) + 0.5 - picture.y) / picture.h
        added = SHAPES[shape](across)[:, None, None] * size
        hole = (known.pixels > 0.8 * light).all(axis=2, keepdims=True)
        pixels = np.where(hole, known.pixels, (known.pixels - dark) * 10**-added + dark)
        with tempfile.TemporaryDirectory() as place:
            write_tiff16(Path(place) / "length.tif", pixels.clip(0, 65535).astype(np.uint16))
            write_tiff16(Path(place) / "open_gate.tif", np.tile(light, (*pixels.shape[:2], 1)).astype(np.uint16))  # fmt: skip
            cast = read(Path(place), ReadOptions(gauge=gauge, marks=False)).cast
        row.take(cast, SHAPES[shape](ACROSS)[:, None] * size)
    return row


def line(name: str, shown: str, row: Row) -> str:
    """A line of the table."""
    left = f"{np.median(row.left):.4f} / {max(row.left):.4f}; {np.mean(row.inside):.2f}" if row.left else "–"
    kinds = [kind for kind in row.claimed if kind != "additive"]
    other = ", ".join(f"{kinds.count(kind)} {kind}" for kind in sorted(set(kinds)))
    named = f"{len(row.left)} of {len(row.claimed)}" + (f" (else {other})" if other else "")
    return f"| {name} | {shown} | {named} | {np.median(row.planted):.3f} | {left} |"


def main() -> None:
    """Print the table."""
    rolls, seed = (int(v) for v in (sys.argv[1:3] + ["4", "1"][len(sys.argv[1:3]) :]))
    print(
        "| stain | scans | claimed additive | planted, median | left, median / most; within what is said to remain |"
    )
    print("|---|---|---|---|---|")
    if sys.argv[3:4] == ["lengths"]:
        for shape in SHAPES:
            print(line(shape, "lengths of five frames", in_lengths(shape, rolls, seed)), flush=True)
        return
    for shape in sys.argv[3:4] or SHAPES:
        for shown in SHOWN:
            print(line(shape, shown, study(shape, shown, rolls, seed)), flush=True)
    if sys.argv[3:4]:
        return
    for shape, other in (("none", "uneven"), ("one edge", "uneven"), ("none", "gaps")):
        row = study(shape, "open gate", rolls, seed, other)
        print(line(shape, f"open gate; {OTHER[other]}", row), flush=True)


if __name__ == "__main__":
    main()
