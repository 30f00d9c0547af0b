"""Marks over picture and unexposed film, found by a reading: `python -m benchmarks.rebate_marks ROLLS SEED`.

Stains and fog add their density wherever they lie; development scales what is there and leaves the rebate as it is;
scratches take density away; plumes add beside the perforations. The scanner is that of `rolls`, four gauges in turn.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from benchmarks.reading import CONDITIONS
from benchmarks.rolls import SCALE, Setting, roll
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.place import Rectangle
from wetside.figures.reading import Mark
from wetside.laws.reel.gauges import GAUGES

KINDS = ("stain", "stain", "fog", "scales", "scratch", "plume")
SHOWN = {"plain", "skewed 0.5°", "skewed 1.5°", "flare 1 %", "flare 3 %", "no rebate at left and right", "no rebate at all",
         "coarse grain", "pictures black at one side", "light falls off by 25 %, as by a lens"}  # fmt: skip
PRINTED = {
    "edge print": Setting(printed=True),
    "edge print, flare 1 %, skewed 0.5°": Setting(printed=True, flare=0.01, skew=0.5),
}
ROWS = {**{name: one for name, one in CONDITIONS.items() if name in SHOWN}, **PRINTED}


@dataclass(frozen=True)
class Lies:
    """A planted mark: its kind, its box, how much of it [px] lies on unexposed film and in the picture, its strongest ΔD."""

    kind: str
    box: Rectangle
    on_film: int
    in_picture: int
    size: float


@dataclass
class Planting:
    """Lays marks on frame after frame and keeps what was laid, one list a frame."""

    setting: Setting
    rng: np.random.Generator
    most: int
    every: list[list[Lies]] = field(default_factory=list)

    def __call__(self, density: np.ndarray, base: np.ndarray, picture: Rectangle, px: float) -> np.ndarray:
        own: list[Lies] = []
        film = film_shown(self.setting, density.shape[:2], picture, px)
        inside = np.zeros(density.shape[:2], bool)
        inside[picture.slices] = True
        for _ in range(int(self.rng.integers(0, self.most + 1)) if self.most else 0):
            kind = str(self.rng.choice(KINDS))
            weight = weight_of(kind, self.setting, density.shape[:2], picture, px, self.rng)
            if weight is None:
                continue
            delta = delta_of(kind, self.rng)
            change = weight[..., None] * (delta * (density - base) if kind == "scales" else delta)
            density = (density + change).astype(np.float32)
            core = weight > 0.5
            rows, columns = np.nonzero(core)
            if len(rows) < 9:
                continue
            box = Rectangle(int(columns.min()), int(rows.min()), int(np.ptp(columns)) + 1, int(np.ptp(rows)) + 1)  # fmt: skip
            adds = 0 if kind == "scales" else int((core & film & ~inside).sum())
            own.append(Lies(kind, box, adds, int((core & inside).sum()), float(np.abs(delta).max())))
        self.every.append(own)
        return density


def film_shown(setting: Setting, shape: tuple[int, int], picture: Rectangle, px: float) -> np.ndarray:
    """Film that the scan shows (h, w): neither a perforation nor behind the holder."""
    from benchmarks.rolls import _hidden, perforate

    film = np.ones(shape, bool)
    holes = np.zeros(shape, np.float32)
    perforate(holes, setting, picture.x, px)
    rim = round(0.5 * px)
    film[:rim] = film[-rim:] = False
    hidden, _ = _hidden(np.zeros((*shape, 3), np.float32), np.zeros(shape, np.float32), setting, px)
    return film & (holes == 0) & (hidden[..., 0] < 1)


def delta_of(kind: str, rng: np.random.Generator) -> np.ndarray:
    """What a mark does (3,): [D], or for what scales a share of the density above base."""
    size = float(np.exp(rng.uniform(np.log(0.055), np.log(0.35))))
    if kind == "scales":
        return np.full(3, rng.uniform(0.15, 0.5) * rng.choice([-1, 1]))
    if kind == "scratch":
        return -size * rng.uniform(0.3, 1.0, 3) / 1.0
    each = rng.uniform(0.5, 1.0, 3)
    if rng.random() < 0.4:
        each[rng.permutation(3)[: rng.integers(1, 3)]] *= 0.1
    return size * each / each.max()


def weight_of(
    kind: str,
    setting: Setting,
    shape: tuple[int, int],
    picture: Rectangle,
    px: float,
    rng: np.random.Generator,
) -> np.ndarray | None:
    """How much of a mark lies where (h, w), 0 to 1; centres over the whole film, a third of them near the picture's rim."""
    tall, wide = shape
    gauge = GAUGES[setting.gauge]
    size = min(1.0, gauge.frame_across_mm / 16)
    x, y = rng.uniform(0, wide), rng.uniform(0.5 * px, tall - 0.5 * px)
    if rng.random() < 0.35:
        y = (picture.y, picture.y + picture.h)[rng.integers(2)] + rng.normal(0, 0.4 * px * size)
    v, u = np.mgrid[0:tall, 0:wide].astype(np.float32)
    u, v = u - np.float32(x), v - np.float32(y)
    if kind == "scratch":
        thick = rng.uniform(0.06, 0.2) * px
        inside = thick / 2 - np.abs(v + 0.02 * u * rng.normal())
        long = rng.uniform(3, 15) * px * size
        return np.clip(inside + 0.5, 0, 1) * np.clip(long / 2 - np.abs(u), 0, 1)
    if kind == "plume":
        if setting.gauge == "110":
            return None
        rim = round(0.5 * px)
        y = rim + (gauge.perf_edge_mm + gauge.perf_across_mm) * px
        left = (
            picture.x
            - 3
            + (rng.integers(0, 6) + 0.3) * gauge.perf_pitch_mm * px
            + gauge.perf_along_mm * px / 2
        )
        u, v = u + np.float32(x - left), v + np.float32(_y_of(v) - y)
        r = rng.uniform(0.4, 0.9) * px
        inside, soft = r - np.hypot(u, v / 2.5), 0.4 * r
        return np.clip(inside / (2 * soft) + 0.5, 0, 1) * (v > 0)
    r = rng.uniform(0.3, 1.6) * px * size * (1.8 if kind == "fog" else 1.0)
    turn = np.arctan2(v, u)
    wobble = 0.15 * np.cos(2 * turn + rng.uniform(0, 6)) + 0.1 * np.cos(3 * turn + rng.uniform(0, 6))
    soft = max(0.6, rng.uniform(0.02, 0.15) * r * (4 if kind == "fog" else 1))
    return np.clip((r * (1 + wobble) - np.hypot(u, v)) / (2 * soft) + 0.5, 0, 1)


def _y_of(v: np.ndarray) -> float:
    """The row that an offset counts from."""
    return float(-v[0, 0])


@dataclass
class Row:
    """Counts [found, all] by what is asked."""

    counts: dict[str, list[int]] = field(default_factory=dict)

    def add(self, what: str, found: bool) -> None:
        """One more of a kind."""
        own = self.counts.setdefault(what, [0, 0])
        own[0] += found
        own[1] += 1

    def share(self, what: str) -> str:
        """Found of all, in words of a table."""
        found, every = self.counts.get(what, [0, 0])
        return f"{found} of {every}" if every else "–"


def hit(mark: Mark, lies: Lies) -> bool:
    """Whether a mark is this one: its middle lies within the planted box, grown a little, or the reverse, and they share area."""
    a, b = mark.box, lies.box
    w, h = min(a.x + a.w, b.x + b.w) - max(a.x, b.x), min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    if w < -3 or h < -3:
        return False
    (x, y), (p, q) = a.centre, b.centre
    return (b.x - 4 <= x <= b.x + b.w + 4 and b.y - 4 <= y <= b.y + b.h + 4) or (
        a.x - 4 <= p <= a.x + a.w + 4 and a.y - 4 <= q <= a.y + a.h + 4
    )


def study(setting: Setting, rolls: int, seed: int, most: int) -> Row:
    """Rolls of one condition, the gauges in turn."""
    row = Row()
    for number in range(rolls):
        of_roll = replace(setting, gauge=list(SCALE)[number % 4])
        planting = Planting(of_roll, np.random.default_rng([seed, number]), most)
        with tempfile.TemporaryDirectory() as place:
            roll(Path(place), of_roll, seed + number, planting)
            reading = read(Path(place), ReadOptions(gauge=of_roll.gauge))
        for frame, own in zip(reading.frames, planting.every):
            gather(row, frame.marks, own, frame.picture)
    return row


def gather(row: Row, marks: tuple[Mark, ...], own: list[Lies], picture: Rectangle) -> None:
    """Count what a frame's marks found and claimed. Seen: 30 pixels and more on unexposed film."""
    row.add("frames", bool(own))
    for mark in marks:
        if mark.in_rebate:
            right = [one for one in own if hit(mark, one)]
            row.add("true in rebate", any(one.on_film for one in right))
            if not own:
                row.add("claimed on clean", True)
        if mark.in_rebate is False:
            right = [one for one in own if hit(mark, one)]
            row.add("false said right", bool(right) and not any(one.on_film > 30 for one in right))
    for one in own:
        over = one.on_film >= 30 and one.in_picture >= 30
        near = [m for m in marks if hit(m, one)]
        if one.on_film >= 30:
            row.add("in rebate found", any(m.in_rebate for m in near))
            row.add(f"{one.kind} found", any(m.in_rebate for m in near))
        if over:
            row.add("over the rim found", any(m.in_rebate for m in near))
            row.add("over the rim, one mark", sum(1 for m in near if m.in_rebate) == 1 and len(near) == 1)
            for m in near:
                if m.in_rebate:
                    row.add("box shared", _shared(m.box, one.box) > 0.5)
        if one.on_film == 0 and one.in_picture >= 30:
            row.add("in picture found", bool(near))


def _shared(a: Rectangle, b: Rectangle) -> float:
    w, h = min(a.x + a.w, b.x + b.w) - max(a.x, b.x), min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    shared = max(0, w) * max(0, h)
    return shared / max(1, a.w * a.h + b.w * b.h - shared)


COLUMNS = ("in rebate found", "true in rebate", "over the rim found", "over the rim, one mark", "box shared", "false said right", "in picture found", "stain found", "fog found", "scratch found", "plume found")  # fmt: skip


def main() -> None:
    """Print a row a condition."""
    rolls, seed = (int(v) for v in (sys.argv[1:3] + ["4", "81000"][len(sys.argv) - 1 :]))
    only = sys.argv[3:]
    print("| condition | " + " | ".join(COLUMNS) + " | claimed on frames without a mark |")
    print("|---" * (len(COLUMNS) + 2) + "|")
    for name, setting in ROWS.items():
        if only and name not in only:
            continue
        setting = replace(setting, frames=3)
        row = study(setting, rolls, seed, 5)
        clean = study(setting, rolls, seed + 500, 0)
        claimed, frames = clean.counts.get("claimed on clean", [0, 0])[1], clean.counts["frames"][1]
        print(f"| {name} | " + " | ".join(row.share(c) for c in COLUMNS) + f" | {claimed} on {frames} |", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
