"""Several frames in one file: a length of film, along the file or down it, cut at the gaps between its pictures.

Answers: where does each frame of a length lie? A gap is one even colour over the whole height of the pictures, the
same between all of them: bare film, the holder's bar, bare light, or the black of a positive. The pictures between are
of one length, in the proportion that some gauge has. A blank or a black frame shows no edge: it is set by the pitch
of the others. Needs two frames that show their edges; a file of one frame gives nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from wetside.figures.place import Part, Rectangle
from wetside.laws.image.layers import highest, lowest
from wetside.stages.negative.found.base import BIN, flat_colours
from wetside.stages.negative.found.picture import longest_run
from wetside.stages.negative.found.turned_length import lie_of, upright

#: Densities over this are the holder's, or a positive's black.
OPAQUE = 2.5
NEAR = 0.06
#: Length of a picture over its height, and the least and most gap over its length, of what small cameras make.
PROPORTIONS = {
    "36 × 24": (36 / 24, 0.015, 0.16), "17 × 13": (17 / 13, 0.2, 0.9), "14 × 10": (14 / 10, 0.02, 0.7),
    "7.5 × 10.3": (7.49 / 10.26, 0.004, 0.05), "18 × 24": (18 / 24, 0.02, 0.12), "17 × 12": (17 / 12, 0.02, 0.5),
}  # fmt: skip
#: A gap that does not part its pictures clearly is at most so many pixels wide on either side of its middle.
NOTCH = 3
#: Most share of the height, against the stretch's own, that is picture in a dip between pictures; and where the stretch could as well
#: be one picture of another gauge with a valley in its middle.
DIP, DEEP_DIP = 0.4, 0.15
#: How far a picture's length may be off its proportion: holders cover some of it.
LOOSE = 0.06
MOST_FRAMES = 12
MOST_COLOURS = 6
#: Least share of the film's width and of its length in the file that pictures take: 16 mm film is 1.6 times as wide as its pictures.
LEAST_OF_WIDTH, LEAST_OF_LENGTH = 0.42, 0.5


@dataclass(frozen=True)
class Comb:
    """Pictures of a length in upright working pixels: first and one-past-last column of each, rows, and what shows them."""

    spans: tuple[tuple[float, float], ...]
    by: tuple[str, ...]
    rows: tuple[int, int]
    angle: float
    score: float


def parts_of_length(density: np.ndarray, shrink: float) -> tuple[Part, ...]:
    """Parts of a file, one a frame, from its densities (h, w, 3) [D] at working size; none where it is one frame's."""
    along, down = best_comb(density), best_comb(np.ascontiguousarray(np.rot90(density)))
    if along is None and down is None:
        return ()
    if down is not None and (along is None or down.score > along.score):
        height, width = density.shape[:2]
        boxes = [Rectangle(width - y - h, x, h, w) for x, y, w, h in _boxes(down, width, height)]
        return _in_file(boxes, down, shrink, True)
    assert along is not None
    return _in_file(_boxes(along, *density.shape[:2]), along, shrink, False)


def _in_file(boxes: list[Rectangle], comb: Comb, shrink: float, down: bool) -> tuple[Part, ...]:
    scaled = [Rectangle(*(round(v * shrink) for v in box)) for box in boxes]
    return tuple(Part(box, down, by) for box, by in zip(scaled, comb.by))


def _boxes(comb: Comb, height: int, width: int) -> list[Rectangle]:
    """Each frame with its half of the narrowest gap and the film above and below it, as it lies in the unturned array."""
    middle = sum(comb.rows) / 2
    half, reach = reach_along(comb), film_beside(comb)
    boxes = []
    for a, b in comb.spans:
        x, y = lie_of((a + b) / 2, middle, comb.angle, height, width)
        box = Rectangle(int(x - half), int(y - reach), round(2 * half), round(2 * reach))
        boxes.append(box.clipped_to(width, height))
    return boxes


def picture_length(comb: Comb) -> float:
    """The usual length of its pictures [working px]."""
    return float(np.median([b - a for a, b in comb.spans]))


def reach_along(comb: Comb) -> float:
    """From a frame's middle to the middle of the narrowest gap; 0 where there is one frame and so no gap."""
    if len(comb.spans) < 2:
        return 0.0
    return (picture_length(comb) + min(a - b for (_, b), (a, _) in pairwise(comb.spans))) / 2


def film_beside(comb: Comb) -> float:
    """From a frame's middle to where its film surely ends, across the film."""
    return 1.15 * (comb.rows[1] - comb.rows[0])


def best_comb(density: np.ndarray) -> Comb | None:
    """The most convincing row of pictures along an array (h, w, 3) [D]; None where there are not two."""
    clipped = np.minimum(density, np.float32(OPAQUE + 0.1))
    found = [comb for on, film in _pictures(clipped) if (comb := _comb(on, film)) is not None]
    return max(found, key=lambda comb: comb.score, default=None)


def comb_of_one(density: np.ndarray, like: Comb) -> Comb | None:
    """A strip's only picture, of the size that the pictures of another strip have; None where not just one is seen."""
    length = picture_length(like)
    for on, _ in _pictures(np.minimum(density, np.float32(OPAQUE + 0.1))):
        turned, angle = upright(on)
        found = _across(turned)
        if found is None:
            continue
        rows, share = found
        runs = _runs(share, length, rows[1] - rows[0])
        sure = _sure(runs, length)
        if len(sure) == 1 and sum(b - a for a, b in runs) < 1.1 * (sure[0][1] - sure[0][0]):
            comb = Comb(tuple(sure), ("gaps",), rows, angle, 0.0)
            if alike(comb, like):
                return comb
    return None


def alike(comb: Comb, like: Comb) -> bool:
    """Whether two combs have pictures of one size."""
    high, high_like = (c.rows[1] - c.rows[0] for c in (comb, like))
    return (
        abs(picture_length(comb) / picture_length(like) - 1) < LOOSE and abs(high / high_like - 1) < 2 * LOOSE
    )


def above_thinnest(density: np.ndarray) -> np.ndarray | None:
    """Where some layer is denser than the thinnest colour that most of the length shares; None where there is none."""
    groups = _gap_colours(density)
    return _beside(cv2.GaussianBlur(density, (0, 0), 0.7), groups[0])[0] if groups else None


def _pictures(density: np.ndarray) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Masks of what may be picture, one for each colour that gaps may have, and of what may be film beside it."""
    smooth = cv2.GaussianBlur(density, (0, 0), 0.7)
    opaque = lowest(smooth) > OPAQUE
    near_opaque = cv2.dilate(opaque.astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    groups = _gap_colours(density)
    thinnest = _beside(smooth, groups[0])[1] if groups else None
    for number, levels in enumerate(groups):
        darkest = float(levels.mean(axis=1).max())
        if darkest > OPAQUE - 0.1:
            yield ~opaque, ~opaque
            continue
        above, near = _beside(smooth, levels)
        thicker = above & ~near_opaque
        film = thicker | near if number == 0 or thinnest is None else ~(opaque | thinnest)
        yield thicker, film
        if darkest > 0.9:
            yield highest(levels.min(axis=0).astype(np.float32) - smooth) > NEAR, ~opaque


def _beside(density: np.ndarray, levels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where some layer is denser than a group of levels (k, 3), and where all layers lie in it."""
    low, high = levels.min(axis=0).astype(np.float32), levels.max(axis=0).astype(np.float32)
    above = highest(density - high) > NEAR
    return above, ~above & (highest(low - density) <= NEAR)


def _gap_colours(density: np.ndarray) -> list[np.ndarray]:
    """Levels (k, 3) of colours that lie in flat stretches of five of eight pieces of the length, those that touch together."""
    pieces = np.array_split(density, 8, axis=1)
    votes = Counter(colour for piece in pieces for colour in flat_colours(piece, densest=6.0))
    shared = np.array([colour for colour, count in votes.items() if count >= 5], float).reshape(-1, 3) * BIN
    groups: list[list[np.ndarray]] = []
    for colour in shared[np.argsort(shared.sum(axis=1))]:
        beside = next((g for g in groups if min(np.abs(colour - one).max() for one in g) < 1.6 * BIN), None)
        if beside is None:
            groups.append([colour])
        else:
            beside.append(colour)
    return [np.array(group) for group in groups if np.ptp(np.array(group), axis=0).max() < 0.3][:MOST_COLOURS]


def _comb(on: np.ndarray, film: np.ndarray) -> Comb | None:
    wide, tall = _extent(film.mean(axis=0)), _extent(film.mean(axis=1))
    if wide < 0.85 * tall:
        return None
    turned, angle = upright(on)
    found = _across(turned)
    if found is None or found[0][1] - found[0][0] < LEAST_OF_WIDTH * tall:
        return None
    rows, share = found
    height = rows[1] - rows[0]
    lying = _inner(upright(film, angle)[0], rows).mean(axis=0) > 0.5
    combs = [_of_proportion(share, height, *of, lying) for of in PROPORTIONS.values()]
    best = max((c for c in combs if c is not None), key=lambda c: c[2], default=None)
    if best is not None and best[0][-1][1] - best[0][0][0] < LEAST_OF_LENGTH * wide:
        return None
    return None if best is None else Comb(best[0], best[1], rows, angle, best[2])


def _across(turned: np.ndarray) -> tuple[tuple[int, int], np.ndarray] | None:
    """Rows that the pictures take in a mask set upright, and the share of them that is picture, column by column."""
    band = turned.mean(axis=1)
    rows = longest_run(band, 0.35 * float(np.percentile(band, 97)), 0.02)
    if rows is None or rows[1] - rows[0] < 24:
        return None
    return rows, _inner(turned, rows).mean(axis=0)


def _inner(turned: np.ndarray, rows: tuple[int, int]) -> np.ndarray:
    inset = max(2, (rows[1] - rows[0]) // 40)
    return turned[rows[0] + inset : rows[1] - inset]


def _extent(profile: np.ndarray) -> int:
    """From the first to the last place that is film for a part of the way across."""
    seen = np.flatnonzero(profile > 0.15)
    return int(seen[-1] - seen[0]) + 1 if len(seen) else 0


Spans = tuple[tuple[float, float], ...]


def _of_proportion(
    share: np.ndarray, height: int, proportion: float, least: float, most: float, lying: np.ndarray
) -> tuple[Spans, tuple[str, ...], float] | None:
    """Pictures of one proportion along a profile, those that show no edge filled in; None where two do not agree."""
    sure = _sure(_runs(share, proportion * height, height), proportion * height)
    if len(sure) < 2:
        return None
    length = float(np.median([b - a for a, b in sure]))
    gaps = [a - b for (_, b), (a, _) in pairwise(sure)]
    near = [gap for gap in gaps if gap < most * length]
    if not near or min(gaps) < least * length * 0.5:
        return None
    pitch = length + float(np.median(near))
    spans, by = _filled(sure, length, pitch, lying)
    if len(spans) > MOST_FRAMES:
        return None
    picture = np.concatenate([share[int(a) + 2 : int(b) - 2] for a, b in sure])
    spread = float(np.std([b - a for a, b in sure])) / length
    left = _left_over(_runs(share, length, height), spans, length)
    score = (
        len(sure) * (length / len(share)) * float((picture > 0.06).mean())
        - 8 * spread
        - left
        - abs(length / height / proportion - 1)
    )
    return (spans, by, score) if left < 0.34 and spread < 0.03 else None


def _runs(share: np.ndarray, length: float, height: int) -> list[tuple[int, int]]:
    """Stretches that are not gap: columns where more than a trace of the height is picture. A stretch as long as some
    pictures is parted at its dips, since a cine frame's gap is a few pixels; one that some gauge's picture fills, at deep ones."""
    on = np.r_[False, share > 0.05, False]
    edges = np.flatnonzero(np.diff(on.astype(np.int8)))
    runs = list[tuple[int, int]]()
    for a, b in zip(edges[::2].tolist(), edges[1::2].tolist()):
        cuts = [a, *_dips(share, a, b, length, _is_one((b - a) / height)), b]
        runs += [(p + (p != a), q) for p, q in pairwise(cuts)]
    return runs


def _is_one(proportion: float) -> bool:
    """Whether a stretch of such a length over its height may be one picture."""
    return any(abs(proportion / own - 1) < LOOSE for own, _, _ in PROPORTIONS.values())


def _dips(share: np.ndarray, a: int, b: int, length: float, may_be_one: bool = False) -> list[int]:
    """Columns that part a stretch into pictures of this length; none where one of them shows no dip."""
    count = round((b - a) / length)
    if not 2 <= count <= MOST_FRAMES or abs((b - a) / count / length - 1) > LOOSE:
        return []
    reach = max(2, round(0.03 * length))
    deepest = DEEP_DIP if may_be_one else DIP
    cuts = []
    for k in range(1, count):
        near = round(a + k * (b - a) / count) - reach
        at = near + int(np.argmin(share[near : near + 2 * reach + 1]))
        if share[at] > deepest * float(np.median(share[a:b])) or not _notched(share, at):
            return []
        cuts.append(at)
    return cuts


def _notched(share: np.ndarray, at: int) -> bool:
    """True where a dip is a gap too narrow to be resolved: up again within NOTCH pixels on either side, as no scene's valley is."""
    left, right = share[max(0, at - NOTCH - 1) : at - NOTCH + 1], share[at + NOTCH : at + NOTCH + 2]
    return bool(min(left.max(initial=0), right.max(initial=0)) > 2 * share[at])


def _sure(runs: list[tuple[int, int]], length: float) -> list[tuple[float, float]]:
    """Runs, or neighbouring runs taken together, that are as long as a picture of this proportion, from left to right."""
    found: list[tuple[float, float]] = []
    i = 0
    while i < len(runs):
        fits = [j for j in range(i, min(i + 8, len(runs))) if abs((runs[j][1] - runs[i][0]) / length - 1) < LOOSE
                and _filled_share(runs[i : j + 1]) > 0.75]  # fmt: skip
        if fits and runs[fits[0]][1] - runs[i][0] > 12:
            found.append((float(runs[i][0]), float(runs[fits[-1]][1])))
            i = fits[-1] + 1
        else:
            i += 1
    return found


def _filled_share(runs: list[tuple[int, int]]) -> float:
    return sum(b - a for a, b in runs) / (runs[-1][1] - runs[0][0])


def _filled(
    sure: list[tuple[float, float]], length: float, pitch: float, lying: np.ndarray
) -> tuple[Spans, tuple[str, ...]]:
    """The pictures seen and those that must lie between them, or at an end that has room for one and less than two."""
    spans, by = [sure[0]], ["gaps"]
    for a, b in sure[1:]:
        steps = round((a - spans[-1][0]) / pitch)
        start = spans[-1][0]
        if steps > 1 and abs(a - start - steps * pitch) < 0.1 * pitch:
            for k in range(1, steps):
                at = start + (a - start) * k / steps
                spans.append((at, at + length))
                by.append("pitch")
        spans.append((a, b))
        by.append("gaps")
    edge = np.flatnonzero(lying)
    if len(edge):
        before, after = spans[0][0] - edge[0], edge[-1] + 1 - spans[-1][1]
        room = pitch - (pitch - length) * 0.9
        if room <= before < 2 * pitch:
            spans.insert(0, (spans[0][0] - pitch, spans[0][0] - pitch + length))
            by.insert(0, "pitch")
        if room <= after < 2 * pitch:
            spans.append((spans[-1][0] + pitch, spans[-1][0] + pitch + length))
            by.append("pitch")
    return tuple(spans), tuple(by)


def _left_over(runs: list[tuple[int, int]], spans: Spans, length: float) -> float:
    """Length of runs inside the row that belong to no picture, in pictures."""
    first, last = spans[0][0], spans[-1][1]
    lost = [
        b - a
        for a, b in runs
        if a > first and b < last and not any(s - 3 <= a and b <= e + 3 for s, e in spans)
    ]
    return sum(lost) / length
