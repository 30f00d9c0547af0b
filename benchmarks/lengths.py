"""Lengths of film with several frames in one file, as a flatbed or a camera gives them, and how they are found.

`python -m benchmarks.lengths [files a row] [seed]`, with `strips` in the end several strips side by side, with `reloads`
cartridges of 110 filled with cine film, whose frames' places are judged as `wetside read` gives them. The film lies in a holder or on bare light, along or down the file, a
little skewed; frames may be blank or black, gaps clear or hidden by the holder's bars, spacing uneven.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np
import tifffile

from benchmarks.rolls import Setting, picture_of
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.place import Part, Rectangle
from wetside.figures.scan import Scan
from wetside.laws.reel.gauges import GAUGES, Gauge

#: Pixels a millimetre.
#: Pitch of 16 mm cine film's perforations [mm], short.
CINE = 7.605
FINE = {"135": 12.0, "110": 26.0, "16still": 30.0, "16cine": 52.0}


@dataclass(frozen=True)
class Laid:
    """How a length lies in its file. `surround` is "holder" or "light"; `bars`: the holder hides the gaps; `reload`: cine
    film in a small cartridge, a hole every 7.605 mm, at which the camera stops after three or four, give or take 0.1 mm."""

    gauge: str = "135"
    frames: int = 5
    down: bool = False
    skew: float = 0.0
    bars: bool = False
    surround: str = "holder"
    blank: tuple[int, ...] = ()
    black: tuple[int, ...] = ()
    uneven: tuple[int, ...] = ()
    coded: bool = False
    tight: bool = False
    under: float = 0.5
    reload: bool = False


@dataclass(frozen=True)
class Held:
    """Several strips side by side: frames of each, in the order of the page on files, and how they lie.

    `apart`: what lies between two strips [mm]; `askew`: how far each strip lies turned by itself [degrees, at random].
    """

    frames: tuple[int, ...] = (4, 4)
    laid: Laid = field(default_factory=Laid)
    apart: float = 6.0
    askew: float = 0.0


@dataclass(frozen=True)
class Known:
    """Pixels of the file, and the true pictures in it in order."""

    pixels: np.ndarray
    pictures: tuple[Rectangle, ...]
    base: np.ndarray
    starts_mm: tuple[float, ...] = field(default=())


def length(laid: Laid, seed: int, base: np.ndarray | None = None) -> Known:
    """A file of one length of film, uint16 linear or, when coded, an 8-bit positive."""
    rng = np.random.default_rng(seed)
    px = FINE[laid.gauge]
    density, pictures, base, starts = _laid(laid, rng, base, px)
    tall = density.shape[0]
    signal = _coded(density, base) if laid.coded else _scanned(density, rng)
    if laid.down:
        signal, pictures = _downward(signal, pictures, tall)
    return Known(signal, tuple(pictures), base, tuple(float(s) for s in starts))


def held(how: Held, seed: int) -> Known:
    """A file of several strips of one film side by side in a holder, or on bare light."""
    rng = np.random.default_rng(seed)
    laid, px = how.laid, FINE[how.laid.gauge] * 0.6
    base = np.array([rng.uniform(0.12, 0.3), rng.uniform(0.4, 0.65), rng.uniform(0.6, 0.95)], np.float32)
    strips = []
    for frames in how.frames:
        own = replace(laid, frames=frames, skew=rng.uniform(-1, 1) * how.askew, tight=True)
        strips.append(_laid(own, rng, base, px)[:2])
    widest = max(density.shape[1] for density, _ in strips) + round(4 * px)
    outside = 4.6 if laid.surround == "holder" else 0.0
    rows, pictures, at = [np.full((round(3 * px), widest, 3), outside, np.float32)], [], round(3 * px)
    for number, (density, own) in enumerate(strips):
        left = round(rng.uniform(0.5, 3.5) * px)
        if number:
            rows.append(np.full((round((how.apart - 0.6) * px), widest, 3), outside, np.float32))
            at += rows[-1].shape[0]
        row = np.full((density.shape[0], widest, 3), outside, np.float32)
        left = min(left, widest - density.shape[1])
        row[:, left : left + density.shape[1]] = density
        pictures.append([p._replace(x=p.x + left, y=p.y + at) for p in own])
        rows.append(row)
        at += density.shape[0]
    whole = np.concatenate([*rows, rows[0]])
    flat = [p for own in pictures for p in own]
    if laid.skew:
        whole, flat = _skewed(whole, flat, laid.skew)
    signal = _coded(whole, base) if laid.coded else _scanned(whole, rng)
    if laid.down:
        signal, flat = _downward(signal, flat, whole.shape[0])
    return Known(signal, tuple(flat), base)


def _downward(signal: np.ndarray, pictures: list[Rectangle], tall: int) -> tuple[np.ndarray, list[Rectangle]]:
    return np.ascontiguousarray(np.rot90(signal, -1)), [
        Rectangle(tall - p.y - p.h, p.x, p.h, p.w) for p in pictures
    ]


def _laid(
    laid: Laid, rng: np.random.Generator, base: np.ndarray | None, px: float
) -> tuple[np.ndarray, list[Rectangle], np.ndarray, np.ndarray]:
    """Densities of one strip and what lies around it, its pictures, its base, and where they start along it [mm]."""
    gauge = replace(GAUGES[laid.gauge], perf_pitch_mm=CINE) if laid.reload else GAUGES[laid.gauge]
    own = np.array([rng.uniform(0.12, 0.3), rng.uniform(0.4, 0.65), rng.uniform(0.6, 0.95)], np.float32)
    base = own if base is None else base.astype(np.float32)
    w, h = round(gauge.frame_along_mm * px), round(gauge.frame_across_mm * px)
    gap = gauge.frame_pitch_mm - gauge.frame_along_mm
    pitches = [gauge.frame_pitch_mm + gauge.perf_pitch_mm * laid.uneven[i % len(laid.uneven)] if laid.uneven else gauge.frame_pitch_mm
               for i in range(laid.frames - 1)]  # fmt: skip
    if laid.reload:
        pitches = [CINE * rng.choice([3, 4]) + rng.normal(0, 0.1) for _ in pitches]
    starts = np.concatenate([[0.0], np.cumsum(pitches)])
    lead = max(gap, 0.5) * rng.uniform(0.5, 1.2)
    long_mm, wide_mm = starts[-1] + gauge.frame_along_mm + 2 * lead, gauge.film_width_mm
    around = 0.3 if laid.tight else 3.0
    tall, wide = round((wide_mm + 2 * around) * px), round((long_mm + 2 * around) * px)
    top = (tall - h) // 2 if gauge.both_edges else tall - h - round((around + 1.4) * px)
    density = np.full((tall, wide, 3), 4.6 if laid.surround == "holder" else 0.0, np.float32)
    film = (
        slice(round(around * px), tall - round(around * px)),
        slice(round(around * px), wide - round(around * px)),
    )
    density[film] = base
    _perforate(density, gauge, px, around, rng.uniform(0, 1))
    pictures = []
    setting = Setting(laid.gauge, exposures=laid.under)
    for number, start in enumerate(starts, 1):
        x = round((around + lead + start) * px)
        above = picture_of(setting, h, w, rng)
        if number in laid.blank:
            above[:] = 0
        if number in laid.black:
            above[:] = 1.7 + 0.01 * rng.standard_normal(above.shape)
        density[top : top + h, x : x + w] = base + above
        pictures.append(Rectangle(x, top, w, h))
    if laid.bars:
        _bar(density, pictures, wide, px, top, h, gap)
    if laid.skew:
        density, pictures = _skewed(density, pictures, laid.skew)
    return density, pictures, base, starts


def _perforate(density: np.ndarray, gauge: Gauge, px: float, around: float, phase: float) -> None:
    tall, wide = round(gauge.perf_across_mm * px), round(gauge.perf_along_mm * px)
    tops = [round((around + gauge.perf_edge_mm) * px)]
    if gauge.both_edges:
        tops.append(density.shape[0] - tops[0] - tall)
    for top in tops:
        for i in range(200):
            left = round((around + (i + phase) * gauge.perf_pitch_mm) * px)
            if left + wide > density.shape[1] - around * px:
                break
            density[top : top + tall, left : left + wide] = 0


def _bar(
    density: np.ndarray, pictures: list[Rectangle], wide: int, px: float, top: int, h: int, gap: float
) -> None:
    """The holder's frame over everything but the pictures: bars a little wider than the gaps, and over the edges."""
    open_ = np.zeros(density.shape[:2], bool)
    over = round(min(0.3, 0.25 * max(gap, 0.1)) * px)
    for p in pictures:
        open_[top + over : top + h - over, p.x + over : p.x + p.w - over] = True
    density[~open_] = 4.6
    for i, p in enumerate(pictures):
        pictures[i] = Rectangle(p.x + over, p.y + over, p.w - 2 * over, p.h - 2 * over)


def _skewed(
    density: np.ndarray, pictures: list[Rectangle], angle: float
) -> tuple[np.ndarray, list[Rectangle]]:
    tall, wide = density.shape[:2]
    extra = round(abs(np.sin(np.radians(angle))) * wide / 2) + 2
    edge = cv2.copyMakeBorder(density, extra, extra, 0, 0, cv2.BORDER_REPLICATE)
    turn = cv2.getRotationMatrix2D((wide / 2, tall / 2 + extra), angle, 1)
    turned = cv2.warpAffine(edge, turn, (wide, tall + 2 * extra), borderMode=cv2.BORDER_REPLICATE)
    found = []
    for p in pictures:
        x, y = turn @ np.array([p.x + p.w / 2, p.y + extra + p.h / 2, 1.0])
        found.append(Rectangle(round(x - p.w / 2), round(y - p.h / 2), p.w, p.h))
    return turned, found


def _scanned(density: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    light = np.array([0.85, 0.9, 0.82], np.float32)
    signal = 10**-density * light * 62000 + 25
    signal += rng.standard_normal(signal.shape) * np.sqrt(signal * 0.7 + 40)
    return signal.clip(0, 65535).astype(np.uint16)


def _coded(density: np.ndarray, base: np.ndarray) -> np.ndarray:
    above = np.clip((density - base) / 1.6, 0, 1) ** 1.2
    return (above * 255).astype(np.uint8)


CONDITIONS: dict[str, Laid] = {
    "plain": Laid(),
    "down the file": Laid(down=True),
    "on bare light": Laid(surround="light"),
    "cropped close": Laid(tight=True),
    "skewed 1°": Laid(skew=1.0),
    "skewed 2°, down": Laid(skew=-2.0, down=True),
    "holder's bars over the gaps": Laid(bars=True),
    "one blank": Laid(blank=(3,)),
    "one black": Laid(black=(2,)),
    "first blank, last black": Laid(blank=(1,), black=(5,)),
    "two frames": Laid(frames=2),
    "three frames, down": Laid(frames=3, down=True),
    "a stop under": Laid(under=1.2),
    "inverted, 8 bits": Laid(coded=True),
}


STRIPS: dict[str, Held] = {
    "two strips": Held(),
    "three, down the file": Held((4, 4, 4), Laid(down=True)),
    "four, the last of two frames": Held((5, 5, 5, 2)),
    "three, the last of one frame": Held((4, 4, 1)),
    "three on bare light": Held((4, 4, 3), Laid(surround="light")),
    "two, skewed 1°": Held((5, 5), Laid(skew=1.0)),
    "three, each askew by up to 0.5°": Held((4, 4, 4), askew=0.5),
    "two, holder's bars over the gaps, down": Held((4, 4), Laid(bars=True, down=True)),
    "three, holder's bars over the gaps": Held((4, 4, 4), Laid(bars=True)),
    "three 2 mm apart": Held((4, 4, 4), apart=2.0),
    "two, a blank and a black frame each": Held((6, 6), Laid(blank=(3,), black=(5,))),
    "three, inverted, 8 bits": Held((4, 4, 4), Laid(coded=True)),
}


def scan_of(known: Known) -> Scan:
    """The file as read."""
    eight = known.pixels.dtype == np.uint8
    return Scan(
        "n.tif", known.pixels, 255.0 if eight else 65535.0, 8 if eight else 16, "gamma" if eight else "linear"
    )


def main(files: int, seed: int = 0, strips: bool = False) -> None:
    """A row a condition: files whose frames were all found in order, frames found, frames claimed that are none."""
    from wetside.app.reading.lengths import parts_and_doubt

    print(
        "| condition | files with every frame found | frames found | false | overlap with the picture, least |\n|---|---|---|---|---|"
    )
    for what, how in (STRIPS if strips else CONDITIONS).items():
        whole = hits = total = false = 0
        least = 1.0
        for number in range(files):
            known = _drawn(how, list(FINE)[number % 4], seed + number)
            parts = parts_and_doubt(scan_of(known))[0]
            good = 0
            for picture in known.pictures:
                inside = [covered(part.box, picture) for part in parts]
                good += max(inside, default=0) > 0.97
                least = min(least, max(inside, default=0))
            hits, total, false = hits + good, total + len(known.pictures), false + max(0, len(parts) - good)
            whole += good == len(known.pictures) == len(parts) and in_order(parts, known.pictures)
        print(f"| {what} | {whole} of {files} | {hits} of {total} | {false} | {least:.2f} |", flush=True)


def reloads(files: int, seed: int = 0) -> None:
    """Lengths of six frames read with `--gauge 110 --perf-pitch 7.605`: where each frame begins [mm], against the truth."""
    off, scale, named, found = [], [], 0, 0
    for number in range(files):
        how = Laid(
            "110",
            6,
            reload=True,
            tight=number % 3 == 1,
            skew=(0.0, 0.5, 1.0)[number % 3],
            down=number % 4 == 3,
        )
        known = length(how, seed + number)
        with tempfile.TemporaryDirectory() as place:
            tifffile.imwrite(Path(place) / "n.tif", known.pixels, photometric="rgb")
            reading = read(Path(place), ReadOptions(gauge="110", perf_pitch=CINE, marks=False))
        lengths, uneven = reading.geometry, bool(np.ptp(np.diff(known.starts_mm)) > 1)
        named += ("frames-uneven" in {f.id for f in reading.findings}) == uneven
        if lengths.px_per_mm is None or len(reading.frames) != how.frames:
            print(f"seed {seed + number}: {len(reading.frames)} frames, scale {lengths.px_per_mm}")
            continue
        found += 1
        even = [i * (lengths.frame_pitch_mm or 0.0) for i in range(how.frames)]
        off += np.abs(np.array(lengths.starts_mm or even) - known.starts_mm).tolist()
        scale.append(abs(lengths.px_per_mm / FINE["110"] - 1))
    print(
        f"{found} of {files} lengths with six frames and a scale; uneven or even rightly said of {named}; starts off by "
        f"{np.median(off):.2f} mm, 90 % under {np.percentile(off, 90):.2f}, most {max(off):.2f}; scale off by "
        f"{np.median(scale):.2%}, most {max(scale):.2%}"
    )


def _drawn(how: Laid | Held, gauge: str, seed: int) -> Known:
    if isinstance(how, Laid):
        return length(replace(how, gauge=gauge), seed)
    return held(replace(how, laid=replace(how.laid, gauge=gauge)), seed)


def in_order(parts: Sequence[Part], pictures: Sequence[Rectangle]) -> bool:
    """Whether each part holds the picture of its number; of strips down a file the leftmost counts first."""
    down = bool(parts) and parts[0].down
    middles = sorted(pictures, key=lambda p: (_strip_place(p, pictures, down), p.y if down else p.x))
    return all(covered(part.box, picture) > 0.97 for part, picture in zip(parts, middles))


def _strip_place(picture: Rectangle, pictures: Sequence[Rectangle], down: bool) -> int:
    """How many strips lie before a picture's: those whose pictures end before its middle."""
    across = int(not down)
    own = picture.centre[across]
    return sum(p[across] + p[across + 2] < own for p in pictures)


def covered(part: Rectangle, picture: Rectangle) -> float:
    """Share of a picture that lies in a part, less what the part takes beyond once and a half of the picture's length."""
    width = min(part.x + part.w, picture.x + picture.w) - max(part.x, picture.x)
    height = min(part.y + part.h, picture.y + picture.h) - max(part.y, picture.y)
    return max(0, width) * max(0, height) / (picture.w * picture.h)


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    if "reloads" in sys.argv:
        reloads(*(numbers or [20]))
    else:
        main(*(numbers or [8]), strips="strips" in sys.argv)
