"""Marks at one place of every picture: dirt in the camera's gate or on the scanner's glass, light that leaks in by the frame.

Which question: does anything stay where it is while the pictures change? Needs six pictures or more, unlike one another
(of several of one view, as grey scales are, the first counts).
Each picture's departure from its own surroundings, counted in its scatter thereabouts and never for much, is summed over the
frames: pictures average out, what stays does not, and a calm picture tells more than a busy one. How far such sums stray by
themselves is told by the same frames mirrored at random, where nothing can stay.
Pictures that are alike (a sequence from a tripod, cards) light up everywhere; then it cannot say, and says nothing.
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
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.film import Lie, placed
from wetside.stages.causes.outline import edge_by_fill

LONG, FEWEST, MOST_FRAMES = 360, 6, 64
#: Surroundings of a place: a blur of this share of the picture's length; its scatter: of a square of so many pixels, at
#: least so much [D]. A departure counts up to `LEAP` scatters.
AROUND, NEAR, CALM, LEAP = 0.05, 41, 0.012, 2.5
#: A sum must stand so many of its own errors out, and so many times above all that mirrored frames give.
CLEAR, ABOVE = 5.5, 1.2
#: Share of a picture's shorter side that is left out all round.
RIM = 0.02
SMALLEST, LARGEST, ALIKE = 0.05, 0.03, 0.02
#: Correlation from which two pictures are of one view, as grey scales and takes from a tripod are.
SAME_VIEW = 0.25
#: A frame shows a mark that stays where its own departure there is this share of the mark's at the least; so many of the
#: frames must, and the change must be so many times its error from frame to frame.
SHOWS, OF_FRAMES, SURE = 0.25, 2 / 3, 3.5
#: The chance of a mark told by many pictures at once (judged: none was claimed on rolls without any, docs/studies.md).
CHANCE = 0.98


@dataclass(frozen=True)
class Staying:
    """A mark that stays: its area on the grid (h, w) bool, its change of density (3,) [D] and the error, its edge."""

    area: np.ndarray
    delta: np.ndarray
    error: np.ndarray
    edge: str


@dataclass
class Stack:
    """Collects the departures of a roll's pictures (360 pixels long, half floats, 64 frames at most) and says what stays."""

    files: list[str] = field(default_factory=list)
    departures: list[np.ndarray] = field(default_factory=list)

    @cached_property
    def staying(self) -> list[Staying]:
        """What stays, strongest first; none with few pictures, or with pictures that are alike."""
        return staying(np.stack(self.departures)) if len(self.departures) >= FEWEST else []

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
        kept = _kept(frame.mask[window], size)
        self.files.append(frame.file)
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        self.departures.append(departure(small, kept).astype(np.float16))

    def _size(self, own: tuple[int, int]) -> tuple[int, int]:
        if not self.departures:
            return own
        tall, wide = self.departures[0].shape[:2]
        return wide, tall

    def marks(self, file: str, picture: Rectangle, known: Sequence[Mark]) -> list[Mark]:
        """Those of a frame that its own finder did not claim: where the frame itself shows them, in pixels of the file."""
        if file not in self.files:
            return []
        own = self.departures[self.files.index(file)]
        found = []
        for one in self.staying:
            box = _placed(one.area, inner(picture))
            if shown(own[one.area][None], one)[0] > SHOWS and not any(
                _touch(box, mark.box) for mark in known
            ):
                found.append(_mark(one, box))
        return found

    def said(self) -> tuple[Finding, ...]:
        """One finding that names what stays, with its size and error."""
        if not self.staying:
            return ()
        first = self.staying[0]
        most = int(np.abs(first.delta).argmax())
        size = f"{first.delta[most]:+.2f} ± {first.error[most]:.2f} D".replace("-", "−")
        count = len(self.staying)
        what = "one mark stays" if count == 1 else f"{count} marks stay"
        return (
            Finding("same-place", "note", "roll", f"{what} at the same place of every picture, the clearest by {size}: dirt or light in the camera, or the scanner",
                    "nothing that stays while pictures change", f"summed over {len(self.files)} pictures",
                    "wipe the scanner's glass and scan one frame again, moved by a few millimetres: what stays with the picture is the camera's, or plumes at holes that every frame has alike"),
        )  # fmt: skip


def with_staying(reading: FrameReading, stack: Stack, number: int, lie: Lie) -> FrameReading:
    """A frame's reading with the marks that stay added, where it shows them and its own finder did not claim them."""
    more = stack.marks(reading.file, reading.picture, reading.marks)
    return replace(reading, marks=(*reading.marks, *(placed(m, reading.picture, number, lie) for m in more)))


def inner(picture: Rectangle) -> Rectangle:
    """A picture without its rim, whose edge stays at its place in every frame."""
    rim = round(RIM * min(picture.w, picture.h)) + 1
    return Rectangle(picture.x + rim, picture.y + rim, picture.w - 2 * rim, picture.h - 2 * rim)


def _kept(mask: np.ndarray, size: tuple[int, int]) -> np.ndarray:
    """How far places of the grid (h, w: 0 to 1) may be looked at: not where light, holes or no film lie."""
    away = (mask & int(Left.CLIPPED | Left.PERFORATION | Left.OUTSIDE_FILM)) != 0
    if not away.any():
        return np.ones((size[1], size[0]), np.float32)
    return 1 - np.minimum(1, 4 * cv2.resize(away.astype(np.float32), size, interpolation=cv2.INTER_AREA))


def departure(density: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """Density (h, w, 3) [D] over that of its surroundings, both of kept places (h, w: 0 to 1) alone; 0 elsewhere.

    What a row holds all along the film is taken off: an uneven edge is a cast, and no mark.
    """
    reach = AROUND * max(kept.shape)
    if kept.min() == 1:
        own = density - cv2.GaussianBlur(density, (0, 0), reach)
        return own - own.mean(axis=1, keepdims=True)
    part = np.maximum(cv2.GaussianBlur(kept, (0, 0), reach), 1e-3)[..., None]
    around = cv2.GaussianBlur(density * kept[..., None], (0, 0), reach) / part
    inside = (kept > 0.99)[..., None]
    own = (density - around) * inside
    along = own.sum(axis=1, keepdims=True) / np.maximum(inside.sum(axis=1, keepdims=True), 1)
    return (own - along) * inside


def staying(departures: np.ndarray) -> list[Staying]:
    """What stays in departures (frames, h, w, 3) [D], strongest first."""
    every = np.stack([in_scatters(one) for one in departures])
    kept = unlike(every)
    if len(kept) < FEWEST:
        return []
    counted, departures = every[kept], departures[kept]
    clear = clearness(counted)
    bound = max(CLEAR, ABOVE * strays(counted))
    if (np.abs(clear) > CLEAR).mean() > ALIKE:
        return []
    seeds, wide = np.abs(clear) > bound, np.abs(clear) > 0.5 * bound
    _, labels = cv2.connectedComponents((wide & (clear > 0)).astype(np.uint8), connectivity=8)
    _, below = cv2.connectedComponents((wide & (clear < 0)).astype(np.uint8), connectivity=8)
    labels = np.where(below > 0, below + labels.max(), labels)
    found = []
    for number in np.unique(labels[seeds & (labels > 0)]):
        area = labels == number
        if 4 <= area.sum() < LARGEST * area.size:
            one = _staying(departures, area)
            if credible(one, departures[:, area]):
                found.append((float(np.abs(clear[area]).max()), one))
    return [one for _, one in sorted(found, key=lambda pair: -pair[0])]


def in_scatters(departure: np.ndarray) -> np.ndarray:
    """One picture's departures (h, w, 3) [D], the layers' mean, in scatters of its own surroundings (h, w), ±2.5 at most."""
    mean = departure.astype(np.float32).mean(axis=2)
    scatter = np.sqrt(cv2.blur(mean * mean, (NEAR, NEAR)) + CALM**2)
    return np.clip(mean / scatter, -LEAP, LEAP)


def unlike(counted: np.ndarray) -> list[int]:
    """Numbers of pictures (frames, h, w) that show other things than those before them; of several of one view the first."""
    flat = counted[:, ::2, ::2].reshape(len(counted), -1)
    flat = flat / np.maximum(np.sqrt((flat * flat).sum(axis=1, keepdims=True)), 1e-6)
    kept: list[int] = []
    for number, own in enumerate(flat):
        if all(float(own @ flat[other]) < SAME_VIEW for other in kept):
            kept.append(number)
    return kept


def clearness(counted: np.ndarray) -> np.ndarray:
    """The sum over frames of departures in scatters (frames, h, w) over its own error (h, w), near places taken together."""
    middle = cv2.blur(counted.mean(axis=0), (3, 3))
    variance = cv2.blur(counted.var(axis=0, ddof=1), (15, 15))
    return middle / np.sqrt(variance / len(counted) + 1e-6)


def strays(counted: np.ndarray) -> float:
    """How clear the clearest place is by chance: of the same frames mirrored left to right, top to bottom, or both, at random."""
    rng = np.random.default_rng(len(counted))
    most = 0.0
    for _ in range(2):
        way = rng.permutation(len(counted)) % 4
        turned = np.stack([one[:: 1 - 2 * (w & 1), :: 1 - (w & 2)] for one, w in zip(counted, way)])
        most = max(most, float(np.abs(clearness(turned)).max()))
    return most


def credible(one: Staying, own: np.ndarray) -> bool:
    """Whether a mark is large enough, surer than its error, and shown by most frames; own (frames, n, 3) [D] is its area."""
    if np.abs(one.delta).max() < SMALLEST or (np.abs(one.delta) / one.error).max() < SURE:
        return False
    return float((shown(own, one) > SHOWS).mean()) >= OF_FRAMES


def shown(own: np.ndarray, one: Staying) -> np.ndarray:
    """How much of a mark each frame shows (frames,): 1 all of it; own (frames, n, 3) [D] is its area."""
    each = own.astype(np.float32).mean(axis=1)
    return each @ one.delta / float(one.delta @ one.delta)


def _staying(departures: np.ndarray, area: np.ndarray) -> Staying:
    own = departures[:, area].astype(np.float32)
    each = own.mean(axis=1)
    mean = departures.astype(np.float32).mean(axis=0)[area] @ np.sign(each.mean(axis=0))
    error = each.std(axis=0, ddof=1) / np.sqrt(len(each))
    return Staying(area, each.mean(axis=0), error, edge_by_fill(mean))


def _placed(area: np.ndarray, picture: Rectangle) -> Rectangle:
    """The box of an area of the grid in pixels of the file."""
    rows, columns = np.nonzero(area)
    across, down = picture.w / area.shape[1], picture.h / area.shape[0]
    x, y = picture.x + columns.min() * across, picture.y + rows.min() * down
    w, h = (np.ptp(columns) + 1) * across, (np.ptp(rows) + 1) * down
    return Rectangle(round(x), round(y), max(1, round(w)), max(1, round(h)))


def _touch(a: Rectangle, b: Rectangle) -> bool:
    return a.x < b.x + b.w and b.x < a.x + a.w and a.y < b.y + b.h and b.y < a.y + a.h


def _mark(one: Staying, box: Rectangle) -> Mark:
    kind = "streak" if max(box.w, box.h) > 4 * max(1, min(box.w, box.h)) else "spot"
    return Mark(box, None, None, rgb(one.delta), one.edge, kind, rgb(one.error), None, (), CHANCE)  # type: ignore[arg-type]
