"""How right a reading is, against what the roll gives it to stand on: `python -m benchmarks.reading [rolls a row]`.

One row a condition and rung, rolls of all four gauges: largest errors of base and patches, least overlap of the
picture's rectangle, casts claimed where none was planted.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from benchmarks.rolls import SCALE, Setting, Truth, roll
from wetside.app.read import PatchAt, ReadOptions, read
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.figures.reading import RollReading

CONDITIONS: dict[str, Setting] = {
    "plain": Setting(),
    "light falls off by 25 %": Setting(falloff=0.25),
    "light falls off by 25 %, as by a lens": Setting(falloff=0.25, lens=True),
    "skewed 0.5°": Setting(skew=0.5),
    "skewed 1.5°": Setting(skew=1.5),
    "flare 1 %": Setting(flare=0.01),
    "flare 3 %": Setting(flare=0.03),
    "no rebate at left and right": Setting(hidden=("left", "right")),
    "no rebate at three sides": Setting(hidden=("left", "right", "bottom")),
    "no rebate at all": Setting(hidden=("left", "right", "top", "bottom")),
    "pictures black at one side": Setting(dark_edges=True),
    "coarse grain": Setting(grain=0.02),
    "under-exposed two stops": Setting(exposures=2.0),
}


@dataclass
class Row:
    """Errors gathered over the rolls of one condition; lists of figures [D], overlaps, counts."""

    base: list[float] = field(default_factory=list)
    patch: list[float] = field(default_factory=list)
    overlap: list[float] = field(default_factory=list)
    casts: int = 0
    rolls: int = 0
    rungs: set[int] = field(default_factory=set)
    spread: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    twice: list[bool] = field(default_factory=list)


def visible(picture: Rectangle, setting: Setting) -> Rectangle:
    """What a holder's mask leaves of a picture."""
    over = round(0.25 * SCALE[setting.gauge])
    x, y, w, h = picture
    if "left" in setting.hidden:
        right = x + w
        x = round(0.9 * SCALE[setting.gauge]) + over
        w = right - x
    if "right" in setting.hidden:
        w = round(0.9 * SCALE[setting.gauge]) + round(_along(setting)) - over - x
    if "top" in setting.hidden:
        y, h = y + over, h - over
    if "bottom" in setting.hidden:
        h -= over
    return Rectangle(x, y, w, h)


def _along(setting: Setting) -> float:
    from wetside.laws.reel.gauges import GAUGES

    return round(GAUGES[setting.gauge].frame_along_mm * SCALE[setting.gauge])


def study(setting: Setting, rolls: int, seed: int) -> Row:
    """Rolls of one condition, read; the gauges in turn."""
    row = Row()
    for number in range(rolls):
        of_roll = replace(setting, gauge=list(SCALE)[number % 4])
        with tempfile.TemporaryDirectory() as place:
            truth = roll(Path(place), of_roll, seed + number)
            at = tuple(PatchAt(name, box) for name, (box, _) in zip(truth.names, truth.patches))
            reading = read(Path(place), ReadOptions(gauge=of_roll.gauge, patches=at, marks=False))
        _gather(row, reading, truth, of_roll)
    return row


def _gather(row: Row, reading: RollReading, truth: Truth, setting: Setting) -> None:
    row.rolls += 1
    row.rungs.add(reading.rung)
    row.casts += reading.cast.found and reading.cast.kind != "light"
    for frame, picture in zip(reading.frames, truth.pictures):
        row.overlap.append(intersection_over_union(frame.picture, visible(picture, setting)))
    if reading.base is None:
        return
    if reading.density == "camera":
        row.base.append(float(np.abs(np.array(reading.base.density) - truth.base).max()))
        row.spread.append(float(max(reading.base.spread)))
    for patch, (_, level) in zip(reading.patches, truth.patches):
        if patch.density is None:
            continue
        true = level if reading.density == "camera" else level - truth.base
        row.patch.append(float(np.abs(np.array(patch.density) - true).max()))
        off = np.abs(np.array(patch.density) - true)
        row.inside.extend((off <= np.array(patch.spread)).tolist())
        row.twice.extend((off <= 2 * np.array(patch.spread)).tolist())


def _largest(values: list[float]) -> str:
    return f"{np.median(values):.3f} / {max(values):.3f}" if values else "–"


def rows(rolls: int = 4, seed: int = 100) -> list[tuple[str, ...]]:
    """Condition, what it stands on, rung said, base error, patch error, overlap, casts claimed, truth inside one and two spreads."""
    table: list[tuple[str, ...]] = []
    for what, setting in CONDITIONS.items():
        for stand, change in (
            ("open gate", {}),
            ("no open gate", {"gate": False}),
            ("not locked", {"gate": False, "locked": False}),
        ):
            row = study(replace(setting, **change), rolls, seed)  # type: ignore[arg-type]
            overlap = f"{np.median(row.overlap):.3f} / {min(row.overlap):.3f}"
            rungs = ", ".join(str(r) for r in sorted(row.rungs))
            table.append((what, stand, rungs, _largest(row.base), _largest(row.patch), overlap, f"{row.casts} of {row.rolls}", f"{np.mean(row.inside):.2f} / {np.mean(row.twice):.2f}" if row.inside else "–"))  # fmt: skip
            print("| " + " | ".join(table[-1]) + " |", flush=True)
    return table


if __name__ == "__main__":
    print("| condition | stands on | rung | base off by, median / most [D] | patches off by [D] | overlap, median / least | casts claimed | patches inside one / two spreads |")  # fmt: skip
    print("|---|---|---|---|---|---|---|---|")
    rows(*(int(a) for a in sys.argv[1:3]))
