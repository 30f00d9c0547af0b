"""How right a reading is, against what the roll gives it to stand on: `python -m benchmarks.reading [rolls a cell] [seed]`.

One row a condition, one cell what it stands on, rolls of all four gauges in turn: errors of patches and bases, how often
the truth lies inside the stated spreads, least overlap of the picture's rectangle, casts claimed where none was planted.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from benchmarks.rolls import SCALE, Setting, Truth, roll
from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.figures.reading import RollReading

#: Rolls are made at this share of the scale in `SCALE`: a reading works at 1000 px all the same.
FINE = 0.5
STANDS: dict[str, dict[str, bool]] = {
    "open gate (rung 3)": {},
    "no open gate (rung 2)": {"gate": False},
    "exposure not locked (rung 2)": {"gate": False, "locked": False},
}
CONDITIONS: dict[str, Setting] = {
    "plain": Setting(),
    "light falls off by 25 %": Setting(falloff=0.25),
    "light falls off by 25 %, as by a lens": Setting(falloff=0.25, lens=True),
    "skewed 0.5°": Setting(skew=0.5),
    "skewed 1.5°": Setting(skew=1.5),
    "flare 1 %": Setting(flare=0.01),
    "flare 3 %": Setting(flare=0.03),
    "flare 3 %, most of it about what is bright": Setting(flare=0.03, skirt=0.6),
    "flare 3 %, stronger at one end by 30 %": Setting(flare=0.03, slant=0.3),
    "flare 2 %, half of it close about what is bright, the rest slanting": Setting(
        flare=0.02, skirt=0.5, reach=1.5, slant=0.2
    ),
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
    px = FINE * SCALE[setting.gauge]
    over = round(0.25 * px)
    x, y, w, h = picture
    if "left" in setting.hidden:
        right = x + w
        x = round(0.9 * px) + over
        w = right - x
    if "right" in setting.hidden:
        w = round(0.9 * px) + round(_along(setting)) - over - x
    if "top" in setting.hidden:
        y, h = y + over, h - over
    if "bottom" in setting.hidden:
        h -= over
    return Rectangle(x, y, w, h)


def _along(setting: Setting) -> float:
    from wetside.laws.reel.gauges import GAUGES

    return round(GAUGES[setting.gauge].frame_along_mm * FINE * SCALE[setting.gauge])


def study(setting: Setting, rolls: int, seed: int) -> Row:
    """Rolls of one condition, read; the gauges in turn."""
    row = Row()
    for number in range(rolls):
        gauge = list(SCALE)[(seed + number) % 4]
        of_roll = replace(setting, gauge=gauge, fine=FINE * SCALE[gauge])
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
    if reading.base is None and reading.density != "camera":
        return
    if reading.base is not None and reading.density == "camera":
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


def cell(row: Row) -> str:
    """Errors of a cell's patches, median / most [D], and how often the truth lies inside one and two spreads."""
    if not row.patch:
        return "no figure"
    return f"{np.median(row.patch):.4f} / {max(row.patch):.4f}; {np.mean(row.inside):.2f}, {np.mean(row.twice):.2f}"


def table(rolls: int = 4, seed: int = 100) -> None:
    """Print the table of docs/studies.md, and under it what it adds up to."""
    every: list[tuple[str, Row]] = []
    print("| condition | base off by (rung 3) | " + " | ".join(STANDS) + " |\n" + "|---" * 5 + "|")
    for at, (what, setting) in enumerate(CONDITIONS.items()):
        # A step of 101 makes the cells take the gauges in turn, however few rolls they ask for.
        cells = enumerate(STANDS.values(), seed + 101 * at)
        rows = [study(replace(setting, **change), rolls, own) for own, change in cells]  # type: ignore[arg-type]
        base = f"{max(rows[0].base):.4f}" if rows[0].base else "–"
        print(f"| {what} | {base} | " + " | ".join(map(cell, rows)) + " |", flush=True)
        every += [(what, row) for row in rows]
    for name, some in (("without flare", [r for w, r in every if "flare" not in w]), ("with flare", [r for w, r in every if "flare" in w])):  # fmt: skip
        inside, twice = (np.concatenate([getattr(r, part) for r in some]) for part in ("inside", "twice"))
        print(f"{name}: {len(inside)} figures, inside one spread {inside.mean():.2f}, two {twice.mean():.2f}")
    bases = [(b, s) for _, r in every for b, s in zip(r.base, r.spread)]
    print(f"bases: {len(bases)} rolls, largest {max(b for b, _ in bases):.4f}, inside two spreads {np.mean([b <= 2 * s for b, s in bases]):.2f}")  # fmt: skip
    print(f"overlap: least {min(min(r.overlap) for _, r in every):.3f}; casts claimed {sum(r.casts for _, r in every)} of {sum(r.rolls for _, r in every)}")  # fmt: skip


if __name__ == "__main__":
    table(*(int(a) for a in sys.argv[1:3]))
