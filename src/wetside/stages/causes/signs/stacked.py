"""Marks at one place of every picture: dirt in the camera's gate or on the scanner's glass, light that leaks in by the frame.

Which question: does anything stay where it is while the pictures change? Needs five pictures or more, unlike one another
(those of one view, as grey scales are, count once together). What the pictures share is laid out by their steps (`unmoved`);
how far that strays by itself is told by the same pictures mirrored at random, where nothing can stay. A mark must stand out
of that, and most pictures must show its steps rather than none there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import cv2
import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.density import DensityFrame
from wetside.figures.finding import Finding
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle, touch
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.signs.at_few_holes import at_few_holes
from wetside.stages.causes.signs.at_holes import (
    AtHoles,
    Holes,
    at_holes,
    edges_with_holes,
    hole_seen,
    said_of_holes,
    with_plumes,
)
from wetside.stages.causes.signs.bands import Band, bands_of_roll, with_bands
from wetside.stages.causes.signs.film import Lie, placed
from wetside.stages.causes.signs.outline import edge_by_fill
from wetside.stages.causes.signs.soft_light import Spot, soft_spots
from wetside.stages.causes.signs.unmoved import WIDTH, counts_of, steps, unmoved

LONG, FEWEST, MOST_FRAMES = 120, 5, 64
#: What pictures mirrored at random give is told by so many draws, two of them first: where what stays is under this share of
#: what it must reach, no more are asked. Its size is told over squares of this share of the length.
DRAWS, ASKED, NEAR = 6, 0.7, 1 / 6
#: No place strays less than this [D].
CALM = 0.002
#: A mark must stand so many strays out of ten pictures, of fewer by more and of many by the second; and so many times above
#: all that mirrored pictures give.
CLEAR, ENOUGH, ABOVE = 9.0, 6.0, 1.4
#: Share of a picture's shorter side that is left out all round.
RIM = 0.02
#: Least change [D]; largest share of the picture; where a mark ends, as a share of its height.
SMALLEST, LARGEST, FOOT = 0.05, 0.2, 0.4
#: So many of the frames must show the steps of a mark rather than none.
OF_FRAMES = 0.55
#: The chance of a mark told by many pictures at once (judged: none was claimed on rolls without any, docs/studies.md).
CHANCE = 0.98


@dataclass(frozen=True)
class Staying:
    """A mark that stays: its area on the grid (h, w) bool, its change of density (3,) [D] and the error, its edge, and which
    frames show it (frames,) bool."""

    area: np.ndarray
    delta: np.ndarray
    error: np.ndarray
    edge: str
    shown: np.ndarray


@dataclass
class Stack:
    """Collects a roll's pictures (120 pixels long, half floats, 64 frames at most) and says what stays.

    `perf_mm`: the perforations' pitch, where it is known; `along_mm`: a picture's length, for scans whose scale is not. `holes`: that pitch in columns of each picture, and where a hole lies;
    `beside`: whether holes are seen above and below it.
    """

    perf_mm: float | None = None
    along_mm: float | None = None
    files: list[str] = field(default_factory=list)
    pictures: list[np.ndarray] = field(default_factory=list)
    bases: list[np.ndarray | None] = field(default_factory=list)
    holes: list[tuple[float, float | None]] = field(default_factory=list)
    beside: list[tuple[bool, bool]] = field(default_factory=list)

    @cached_property
    def counts(self) -> np.ndarray:
        """How much each picture counts (n,): those of one view count once together."""
        return counts_of(np.stack(self.pictures).astype(np.float32).mean(axis=3))

    @cached_property
    def bands(self) -> dict[str, list[Band]]:
        """Bands across the pictures, by file."""
        if not self.pictures:
            return {}
        return dict(zip(self.files, bands_of_roll(self.pictures, self.bases, self.counts), strict=True))

    @cached_property
    def at_holes(self) -> list[AtHoles]:
        """What comes with the perforations along either edge."""
        own = [
            Holes(picture.astype(np.float32) - base, *holes)
            for picture, base, holes in zip(self.pictures, self.bases, self.holes, strict=True)
            if base is not None and holes[0]
        ]
        if not own or len(own) != len(self.pictures):
            return []
        found = at_holes(own, self.counts)
        left = [edge for edge in self._perforated() if edge not in {one.below for one in found}]
        return [*found, *at_few_holes(own, self.perf_mm or 0.0, self.counts, left)]

    def _perforated(self) -> list[bool]:
        """Edges, the top one (False) and the bottom one (True), beside which most pictures have holes."""
        return [bool(below) for below in (0, 1) if 2 * sum(b[below] for b in self.beside) > len(self.beside)]

    @cached_property
    def staying(self) -> list[Staying]:
        """What stays, strongest first; none with few pictures, or with pictures that are alike; plumes at the holes left out."""
        if len(self.pictures) < FEWEST:
            return []
        pictures = np.stack(self.pictures).astype(np.float32)
        found = with_soft_light(staying(pictures, self.counts), pictures, self.counts)
        return [one for one in found if not any(along.holds(one.area) for along in self.at_holes)]

    def add(self, frame: DensityFrame) -> None:
        """Take one frame's picture."""
        if len(self.files) >= MOST_FRAMES:
            return
        x, y, w, h = (v / frame.shrink for v in inner(frame.picture))
        window = np.s_[max(0, round(y)) : round(y + h), max(0, round(x)) : round(x + w)]
        picture = frame.density[window]
        if min(picture.shape[:2], default=0) < 48:
            return
        size = self._size((LONG, round(LONG * h / w)) if w >= h else (round(LONG * w / h), LONG))
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        self.files.append(frame.file)
        self.bases.append(None if frame.base is None else np.array(frame.base, np.float32))
        scale = frame.px_per_mm or (frame.picture.w / self.along_mm if self.along_mm else 0)
        pitch = (self.perf_mm or 0) * scale * size[0] / inner(frame.picture).w
        self.holes.append((pitch, hole_seen(frame, window[1].start, w / size[0], pitch) if pitch else None))
        self.beside.append(edges_with_holes(frame))
        self.pictures.append(_known(small, frame.mask[window]).astype(np.float16))

    def _size(self, own: tuple[int, int]) -> tuple[int, int]:
        if not self.pictures:
            return own
        tall, wide = self.pictures[0].shape[:2]
        return wide, tall

    def marks(self, file: str, picture: Rectangle, known: Sequence[Mark]) -> list[Mark]:
        """Those of a frame that its own finder did not claim: where the frame itself shows them, in pixels of the file."""
        if file not in self.files:
            return []
        number = self.files.index(file)
        boxes = [(one, _placed(one.area, inner(picture))) for one in self.staying if one.shown[number]]
        return [_mark(one, box) for one, box in boxes if not any(touch(box, mark.box) for mark in known)]

    def said(self) -> tuple[Finding, ...]:
        """What comes with the perforations, and one finding that names what stays, with its size and error."""
        along = said_of_holes(self.at_holes)
        if not self.staying:
            return along
        first = self.staying[0]
        most = int(np.abs(first.delta).argmax())
        size = f"{first.delta[most]:+.2f} ± {first.error[most]:.2f} D".replace("-", "−")
        count = len(self.staying)
        what = "one mark stays" if count == 1 else f"{count} marks stay"
        return (
            *along,
            Finding("same-place", "note", "roll", f"{what} at the same place of every picture, the clearest by {size}: dirt or light in the camera, or the scanner",
                    "nothing that stays while pictures change", f"told by {len(self.files)} pictures together",
                    "wipe the scanner's glass and scan one frame again, moved by a few millimetres: what stays with the picture is the camera's, or plumes at holes that every frame has alike"),
        )  # fmt: skip


def with_staying(reading: FrameReading, stack: Stack, number: int, lie: Lie) -> FrameReading:
    """A frame's reading with the marks that stay and its plumes, where its own finder did not claim them, and its bands."""
    more = stack.marks(reading.file, reading.picture, reading.marks)
    found = replace(reading, marks=(*reading.marks, *(placed(m, reading.picture, number, lie) for m in more)))
    if reading.file in stack.files:
        index = stack.files.index(reading.file)
        found = with_plumes(found, inner(reading.picture), stack.at_holes, index, number, lie)
    return with_bands(found, inner(reading.picture), stack.bands.get(reading.file, ()), number, lie)


def inner(picture: Rectangle) -> Rectangle:
    """A picture without its rim, whose edge stays at its place in every frame."""
    rim = round(RIM * min(picture.w, picture.h)) + 1
    return Rectangle(picture.x + rim, picture.y + rim, picture.w - 2 * rim, picture.h - 2 * rim)


def _known(small: np.ndarray, mask: np.ndarray) -> np.ndarray:
    """A picture's grid (h, w, 3), NaN where light, holes or no film lie."""
    away = (mask & int(Left.CLIPPED | Left.PERFORATION | Left.OUTSIDE_FILM)) != 0
    if not away.any():
        return small
    part = cv2.resize(away.astype(np.float32), small.shape[1::-1], interpolation=cv2.INTER_AREA)
    return np.where(part[..., None] > 0, np.nan, small)


def staying(pictures: np.ndarray, counts: np.ndarray | None = None) -> list[Staying]:
    """What stays in pictures (frames, h, w, 3) [D], strongest first; `counts` (frames,) where known how much each counts."""
    mean = pictures.mean(axis=3)
    counts = counts_of(mean) if counts is None else counts
    if counts.sum() < FEWEST - 0.5:
        return []
    stays, least = unmoved(mean, counts), max(ENOUGH, CLEAR * float(np.sqrt(10 / counts.sum())))
    for draws in (2, DRAWS):
        strays, most = _strays(mean, counts, draws)
        clear, bound = stays / strays, max(least, ABOVE * most)
        if np.abs(clear).max() < (ASKED if draws < DRAWS else 1) * bound:
            return []
    found = []
    layers = np.stack([unmoved(pictures[..., c], counts) for c in range(3)], axis=2)
    for area in _areas(clear, bound):
        one = _staying(mean, layers, strays, area)
        if np.abs(one.delta).max() >= SMALLEST and counts[one.shown].sum() >= OF_FRAMES * counts.sum():
            found.append((float(np.abs(clear[area]).max()), one))
    return [one for _, one in sorted(found, key=lambda pair: -pair[0])]


def with_soft_light(found: list[Staying], pictures: np.ndarray, counts: np.ndarray) -> list[Staying]:
    """What stays, and soft light that too few frames (n, h, w, 3) [D] show as a mark of any shape."""
    if counts.sum() < FEWEST - 0.5:
        return found
    spots = soft_spots(pictures.mean(axis=3), counts)
    shape = pictures.shape[1:3]
    new = [s for s in spots if not any((one.area & s.inside(shape, (0.0, 1.5))).any() for one in found)]
    if not new:
        return found
    layers = np.stack([unmoved(pictures[..., c], counts) for c in range(3)], axis=2)
    made = [_of_spot(spot, layers) for spot in new]
    return [*found, *(one for one in made if one.delta.max() >= SMALLEST)]


def _of_spot(spot: Spot, layers: np.ndarray) -> Staying:
    """A soft spot as a mark that stays, its density by what the pictures' layers (h, w, 3) [D] share in and round it."""
    area = spot.inside(layers.shape[:2])
    beside = spot.inside(layers.shape[:2], (1.8, 2.6))
    delta = np.median(layers[area], axis=0) - np.median(layers[beside], axis=0)
    return Staying(area, delta, np.full(3, np.abs(delta).max() / spot.strays), "soft", spot.shown)


def _strays(pictures: np.ndarray, counts: np.ndarray, draws: int) -> tuple[np.ndarray, float]:
    """How far (h, w) [D] what stays strays of pictures (n, h, w) mirrored at random, and the most of it in such strays."""
    rng = np.random.default_rng(len(pictures))
    found = []
    for _ in range(draws):
        way = rng.permutation(len(pictures)) % 4
        turned = np.stack([one[:: 1 - 2 * (w & 1), :: 1 - (w & 2)] for one, w in zip(pictures, way)])
        found.append(unmoved(turned, counts))
    every = np.stack(found)
    near = round(NEAR * max(every.shape[1:])) | 1
    square = cv2.blur((every**2).mean(axis=0).astype(np.float32), (near, near))
    strays = np.sqrt(square) + CALM
    return strays, float(np.abs(every / strays).max())


def _areas(clear: np.ndarray, bound: float) -> list[np.ndarray]:
    """Areas (h, w) bool of marks in what stays, in strays (h, w): round each peak over the bound as far as its foot."""
    left, found = clear.copy(), []
    for _ in range(12):
        top = np.unravel_index(int(np.abs(left).argmax()), left.shape)
        if abs(left[top]) < bound:
            break
        alike = (clear * np.sign(clear[top]) > FOOT * abs(clear[top])).astype(np.uint8)
        _, labels = cv2.connectedComponents(alike, connectivity=8)
        area = labels == labels[top]
        left[cv2.dilate(area.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0] = 0
        if area.sum() < LARGEST * area.size:
            found.append(area)
    return found


def _staying(pictures: np.ndarray, layers: np.ndarray, strays: np.ndarray, area: np.ndarray) -> Staying:
    delta = np.median(layers[area], axis=0)
    error = np.full(3, float(np.median(strays[area])))
    rows, columns = np.nonzero(area)
    more = max(2, round(0.4 * min(np.ptp(rows), np.ptp(columns))))
    box = np.s_[
        max(0, rows.min() - more) : rows.max() + more + 1,
        max(0, columns.min() - more) : columns.max() + more + 1,
    ]
    edge = edge_by_fill((layers[box] @ np.sign(delta)).astype(np.float32))
    return Staying(area, delta, error, edge, shown(pictures, layers.mean(axis=2), area))


def shown(pictures: np.ndarray, stays: np.ndarray, area: np.ndarray) -> np.ndarray:
    """Which of the pictures (n, h, w) show the steps of a mark (h, w) [D] rather than none, on its area and round it (n,)."""
    near = cv2.dilate(area.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    speaks = np.zeros(len(pictures))
    for own, mark, there in zip(steps(pictures), steps(stays[None]), (near[:, 1:], near[1:]), strict=True):
        seen, want = own[:, there], mark[0][there]
        ratio = np.log1p((seen / WIDTH) ** 2) - np.log1p(((seen - want) / WIDTH) ** 2)
        speaks += np.nan_to_num(ratio).sum(axis=1)
    return speaks > 0


def _placed(area: np.ndarray, picture: Rectangle) -> Rectangle:
    """The box of an area of the grid in pixels of the file."""
    rows, columns = np.nonzero(area)
    across, down = picture.w / area.shape[1], picture.h / area.shape[0]
    x, y = picture.x + columns.min() * across, picture.y + rows.min() * down
    w, h = (np.ptp(columns) + 1) * across, (np.ptp(rows) + 1) * down
    return Rectangle(round(x), round(y), max(1, round(w)), max(1, round(h)))


def _mark(one: Staying, box: Rectangle) -> Mark:
    kind = "streak" if max(box.w, box.h) > 4 * max(1, min(box.w, box.h)) else "spot"
    return Mark(box, None, None, rgb(one.delta), one.edge, kind, rgb(one.error), None, (), CHANCE)  # type: ignore[arg-type]
