"""The steps of a wedge found along its strip, so that each can be read as a densitometer would.

Answers: where are the steps of a step wedge in a scan? Needs equal steps side by side, at least three borders that can
be seen, and one end of the exposed part in view. Cannot say when the count and the borders fit at two places alike.

The scan is turned until the borders stand upright; then a comb of equal spacing is laid so that its teeth meet the
changes of density. Steps that cannot be told apart (the toe) lie where the comb puts them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from wetside.figures.finding import CannotSay
from wetside.figures.place import Rectangle

LONGEST = 640
STEEPEST = 8.0
#: A border counts as seen when density changes by so much [D] over it.
SEEN = 0.012
#: A border never counts for more than this [D]: the edge of the film must not outweigh the wedge.
MOST = 0.12
#: A change of density larger than this [D] is the edge of film or holder, not a border between steps.
EDGE = 0.3
#: The halves of one step may differ by this [D]: light and grain, not a border.
UNEVEN = 0.025
#: A comb that fits as well as this at another place leaves the count open.
ALIKE = 0.97
#: What helps where no comb is found.
BY_HAND = "--within around the wedge, the right number of --steps, or a --spot for each step"


@dataclass(frozen=True)
class Steps:
    """Cores of the steps in pixels of the array given, thinnest first; the strip's skew [degrees]; borders seen."""

    boxes: tuple[Rectangle, ...]
    skew: float
    seen: int


@dataclass(frozen=True)
class Comb:
    """Where a comb of equal steps begins and how wide a step is [px]; its score; how many inner teeth meet a border."""

    start: float
    width: float
    score: float
    seen: int = 0

    def teeth(self, first: int, beyond: int) -> np.ndarray:
        """Places of the teeth from `first` up to, not including, `beyond` [px]; tooth 0 begins the first step."""
        return self.start + self.width * np.arange(first, beyond)


def steps_along(density: np.ndarray, count: int, within: Rectangle | None = None) -> Steps | CannotSay:
    """Places of `count` equal steps in densities (h, w, 3) [D], inside a rectangle where one is given."""
    box = within or Rectangle(0, 0, density.shape[1], density.shape[0])
    part = np.ascontiguousarray(density[box.slices], np.float32)
    if min(part.shape[:2]) < 12 or max(part.shape[:2]) < 4 * count:
        return CannotSay(
            f"{count} steps need at least {4 * count} pixels along the strip, found {max(part.shape[:2])}",
            "a larger scan, or the spots given by hand",
        )
    upright = _rises_down(part)
    if upright:
        part = np.ascontiguousarray(part.transpose(1, 0, 2))
    skew = _skew(part)
    straight = _turned(part, skew)
    rows = _band(straight)
    profile = np.median(straight[rows[0] : rows[1]], axis=0)
    comb = _comb(profile, count)
    if isinstance(comb, CannotSay):
        return comb
    middles = comb.teeth(0, count) + comb.width / 2
    boxes = [_core(float(middle), comb.width, rows, skew, part.shape[:2]) for middle in middles]
    levels = [float(np.median(part[b.slices])) if b.w and b.h else np.nan for b in boxes]
    if np.isnan(levels).any():
        return CannotSay("a step lies outside the scan", "a scan that holds the entire strip")
    if levels[0] > levels[-1]:
        boxes, levels = boxes[::-1], levels[::-1]
    if (np.diff(levels) < -3 * SEEN).any():
        return CannotSay(
            "densities along the comb do not rise from step to step",
            "--within around the wedge alone, or spots",
        )
    if max(_uneven(part[b.slices]) for b in boxes) > UNEVEN:
        return CannotSay(
            "the places found for the steps are not even: the strip's skew could not be told",
            "a straighter scan, --within around the wedge alone, or a --spot for each step",
        )
    placed = [Rectangle(b.y, b.x, b.h, b.w) if upright else b for b in boxes]
    return Steps(tuple(Rectangle(b.x + box.x, b.y + box.y, b.w, b.h) for b in placed), float(skew), comb.seen)


def _uneven(core: np.ndarray) -> float:
    """Largest difference [D] between the medians of a core's two halves, across it or along it."""
    grey = core.mean(axis=2)
    tall, wide = grey.shape[0] // 2, grey.shape[1] // 2
    halves = ((grey[:tall], grey[-tall:]), (grey[:, :wide], grey[:, -wide:]))
    return max((abs(float(np.median(a) - np.median(b))) for a, b in halves if a.size >= 12), default=0.0)


def grid_cells(box: Rectangle, columns: int, rows: int) -> tuple[Rectangle, ...]:
    """Cores (the inner 0.4 of each cell) of a grey scale of columns × rows patches, row by row from the top left."""
    wide, tall = box.w / columns, box.h / rows
    return tuple(
        Rectangle(round(box.x + (c + 0.3) * wide), round(box.y + (r + 0.3) * tall), max(2, round(0.4 * wide)), max(2, round(0.4 * tall)))
        for r in range(rows)
        for c in range(columns)
    )  # fmt: skip


def _rises_down(part: np.ndarray) -> bool:
    """Whether the wedge runs from top to bottom: the profile along it varies more than the one across."""
    middle = part[
        part.shape[0] // 4 : -part.shape[0] // 4 or None, part.shape[1] // 4 : -part.shape[1] // 4 or None
    ]
    along, down = np.median(middle, axis=0), np.median(middle, axis=1)
    return bool(down.std(axis=0).sum() > along.std(axis=0).sum())


def _skew(part: np.ndarray) -> float:
    """Angle [degrees] by which the part must be turned for its borders to stand upright: the sharpest profile."""
    shrink = max(1.0, part.shape[1] / LONGEST)
    grey = cv2.resize(part.mean(axis=2), None, fx=1 / shrink, fy=1 / shrink, interpolation=cv2.INTER_AREA)

    def sharpness(angle: float) -> float:
        height = grey.shape[0]
        band = _turned(grey, angle)[height // 4 : max(height // 4 + 4, height - height // 4)]
        profile = band.mean(axis=0)
        # The edges of film and holder are left out: they need not lie along the wedge's own borders.
        edge = _change(profile[:, None], 12) > EDGE
        kept = ~cv2.dilate(edge.astype(np.uint8), np.ones((25, 1), np.uint8)).ravel().astype(bool)
        return float((np.diff(profile)[kept[1:]] ** 4).sum())

    coarse = max(np.arange(-STEEPEST, STEEPEST + 0.1, 0.5), key=sharpness)
    return float(max(np.arange(coarse - 0.5, coarse + 0.51, 0.1), key=sharpness))


def _turned(part: np.ndarray, angle: float) -> np.ndarray:
    height, width = part.shape[:2]
    turn = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), angle, 1.0)
    return cv2.warpAffine(
        part, turn, (width, height), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )


def _band(straight: np.ndarray) -> tuple[int, int]:
    """First and last row that show the wedge: those alike the middle's profile."""
    height = straight.shape[0]
    grey = straight.mean(axis=2)
    middle = np.median(grey[int(height * 0.4) : max(int(height * 0.6), int(height * 0.4) + 3)], axis=0)
    away = grey - middle
    alike = np.abs(away - np.median(away, axis=1, keepdims=True)).mean(axis=1) < 0.08
    rows = (height // 2, height // 2)
    first, last = rows
    while first > 0 and alike[first - 1]:
        first -= 1
    while last < height - 1 and alike[last + 1]:
        last += 1
    rim = max(1, (last - first) // 10)
    return (
        (first + rim, last + 1 - rim) if last - first >= 8 else (int(height * 0.35), int(height * 0.65) + 1)
    )


def _comb(profile: np.ndarray, count: int) -> Comb | CannotSay:
    """The comb that meets the most change of density, where no other does as well and the steps end with it."""
    reach = max(1, len(profile) // (6 * count))
    change = _change(profile, reach)
    found = _rising_combs(profile, np.minimum(change, MOST), count)
    if not found:
        return CannotSay(f"no {count} equal steps of rising density are seen along the strip", BY_HAND)
    best = _finely(max(found, key=_score), np.minimum(change, MOST), count)
    seen = int((_at(change, best.teeth(1, count)) > SEEN).sum())
    if seen < max(3, count // 4):
        few = f"{seen} borders between {count} steps can be seen; at least {max(3, count // 4)} are needed"
        return CannotSay(few, BY_HAND)
    if any(one.score > ALIKE * best.score for one in found if _elsewhere(one, best)):
        return CannotSay(
            f"{count} steps fit at two places alike: no end of the wedge is in view",
            "a scan with the wedge's dense end in view, --within around the wedge, or a --spot for each step",
        )
    if _goes_on(best, change, count, reach):
        return CannotSay(f"the steps go on beyond the {count} asked for", BY_HAND)
    return replace(best, seen=seen)


def _rising_combs(profile: np.ndarray, strength: np.ndarray, count: int) -> list[Comb]:
    """Combs from a third of the strip to all of it, over steps that grow denser one way."""
    length = len(profile)
    widths = np.arange(0.35 * length / count, length / count + 1e-9, 0.15)
    return [one for one in _combs(strength, count, widths, 1.0) if _rises(profile, one, count)]


def _finely(comb: Comb, strength: np.ndarray, count: int) -> Comb:
    """The best comb about this one, at a finer spacing."""
    widths = np.arange(comb.width - 0.3, comb.width + 0.31, 0.02)
    return max(_combs(strength, count, widths[widths * count <= len(strength)], 0.25), key=_score)


def _elsewhere(one: Comb, best: Comb) -> bool:
    """Whether a comb of like spacing lies nearly a step or more away."""
    return abs(one.start - best.start) > 0.7 * best.width and abs(one.width - best.width) < 0.08 * best.width


def _goes_on(comb: Comb, change: np.ndarray, count: int, reach: int) -> bool:
    """Whether a border lies one step before the comb or after it, within the strip."""
    beyond = comb.teeth(-1, count + 2)[[0, -1]]
    inside = beyond[(beyond > reach) & (beyond < len(change) - 1 - reach)]
    further = _at(change, inside)
    return bool(((further > 2 * SEEN) & (further < MOST)).any())


def _at(change: np.ndarray, places: np.ndarray) -> np.ndarray:
    return np.interp(places, np.arange(len(change)), change)


def _rises(profile: np.ndarray, comb: Comb, count: int) -> bool:
    """Whether the middles of the steps grow denser one way along the strip, by no more than an edge at once."""
    middles = comb.teeth(0, count) + comb.width / 2
    steps = np.diff(np.interp(middles, np.arange(len(profile)), profile.mean(axis=1)))
    steps = steps if steps.sum() > 0 else -steps
    return bool(steps.min() > -3 * SEEN and steps.max() < EDGE)


def _change(profile: np.ndarray, reach: int) -> np.ndarray:
    """Change of density [D] over each place (n,): mean of `reach` samples after it less the mean before."""
    sums = np.vstack([np.zeros((1, profile.shape[1])), np.cumsum(profile, axis=0)])
    place = np.arange(len(profile))
    before, after = np.maximum(place - reach, 0), np.minimum(place + reach, len(profile))
    left = (sums[place] - sums[before]) / np.maximum(place - before, 1)[:, None]
    right = (sums[after] - sums[place]) / np.maximum(after - place, 1)[:, None]
    change = np.abs(right - left).mean(axis=1)
    change[0] = 0.0
    return change


def _combs(strength: np.ndarray, count: int, widths: np.ndarray, stride: float) -> list[Comb]:
    """The best combs of each spacing: their score is what their teeth meet, less what lies under the middles of their steps."""
    found: list[Comb] = []
    length = len(strength)
    axis = np.arange(length)
    for width in widths:
        starts = np.arange(0.0, length - count * width + 1e-9, stride)
        if len(starts) == 0:
            starts = np.array([0.0])
        teeth = starts[:, None] + width * np.arange(count + 1)
        middles = starts[:, None] + width * (np.arange(count) + 0.5)
        met = np.interp(teeth, axis, strength).sum(axis=1) - np.interp(middles, axis, strength).sum(axis=1)
        order = np.argsort(met)[::-1][:40]
        found.extend(Comb(float(starts[i]), float(width), float(met[i])) for i in order)
    return found


def _score(comb: Comb) -> float:
    return comb.score


def _core(
    centre: float, width: float, rows: tuple[int, int], skew: float, shape: tuple[int, int]
) -> Rectangle:
    """The core of a step as an upright rectangle of the unturned part: small enough to stay inside when skewed."""
    height, whole = shape
    middle = (rows[0] + rows[1]) / 2
    slope = abs(np.tan(np.radians(skew)))
    tall = min(0.7 * (rows[1] - rows[0]), 3 * width) if slope > 0.01 else 0.7 * (rows[1] - rows[0])
    wide = max(2.0, 0.64 * width - slope * tall)
    turn = cv2.getRotationMatrix2D(((whole - 1) / 2, (height - 1) / 2), -skew, 1.0)
    x, y = turn @ np.array([centre - 0.5, middle - 0.5, 1.0])
    tall = max(2.0, tall - 2 * slope * width)
    box = Rectangle(round(x + 0.5 - wide / 2), round(y + 0.5 - tall / 2), round(wide), round(tall))
    return box.clipped_to(whole, height)
