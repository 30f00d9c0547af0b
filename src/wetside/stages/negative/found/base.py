"""The unexposed base: the thinnest colour that lies in flat stretches of most frames and is neither light nor holder.

Pictures differ from frame to frame; the rebate does not. So the base is the thinnest colour that most frames share,
together with the shared colours that touch it in colour space: an additive cast gives the rebate several levels.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

import cv2
import numpy as np

from wetside.figures.abreast import abreast
from wetside.laws.image.layers import farthest, highest, lowest, medians

BIN = 0.03
DENSEST = 2.4
SHARE = 0.003
STEP = 0.05
#: Pixels of a frame that tell its base at the least.
FEWEST = 60
#: Pixels on either side that a place's evenness is judged by.
REACH = 3
#: Rows and columns of a part of a frame.
Part = tuple[slice, slice]
#: What a base has over bare light at the least: masked colour negative is orange.
ORANGE = np.array([0.03, 0.15, 0.2])


def flat(density: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where a 7 × 7 neighbourhood is even in all layers, and its mean."""
    mean = cv2.blur(density, (2 * REACH + 1, 2 * REACH + 1))
    square = density * density
    variance = cv2.blur(square, (2 * REACH + 1, 2 * REACH + 1))
    variance -= np.multiply(mean, mean, out=square)
    uneven = highest(variance)
    np.sqrt(np.maximum(uneven, 0, out=uneven), out=uneven)
    return uneven < 0.02 + 0.01 * highest(mean), mean


def base_colours(
    densities: Iterable[np.ndarray], light_known: bool, locked: bool = True
) -> np.ndarray | None:
    """Levels (k, 3) [D] of the base that at least 60 % of the frames share; None when there is none.

    Bare light (perforations, an empty gate) is left out: density 0 when the light is known, any grey when its exposure
    was not locked; otherwise the thinnest level if a clearly more orange one is shared as well.
    """
    votes: Counter[tuple[int, ...]] = Counter()
    looked = 0
    for colours in abreast(flat_colours, densities):
        votes.update(colours)
        looked += 1
    needed = max(1.0, 0.6 * looked)
    shared = (
        np.array([colour for colour, count in votes.items() if count >= needed], float).reshape(-1, 3) * BIN
    )
    shared = shared[np.argsort(shared.sum(axis=1))]
    if light_known:
        shared = shared[(shared if locked else np.ptp(shared, axis=1, keepdims=True)).max(axis=1) > 0.08]
    elif len(shared) > 1 and _more_orange(shared - shared[0]).any():
        # Bare light keeps its hue however much weaker it is towards the edges; a base is more orange.
        hue = shared - shared[:, :1]
        bare = np.abs(hue - hue[0]).max(axis=1) < 2.5 * BIN
        shared = shared[~bare]
    if len(shared) == 0:
        return None
    return _touching(shared)


def _more_orange(over: np.ndarray) -> np.ndarray:
    """Which levels lie over another (k, 3) [D] as masked film lies over light: a holder at a file's darkest code is as dense in all layers."""
    found: np.ndarray = (over > ORANGE).all(axis=1) & (over[:, 2] - over[:, 0] > ORANGE[2] - ORANGE[0])
    return found


def _touching(shared: np.ndarray) -> np.ndarray:
    """The levels that hang together with the thinnest by steps no larger than STEP."""
    taken = np.zeros(len(shared), bool)
    taken[0] = True
    while True:
        steps = np.abs(shared[:, None] - shared[None, taken]).max(axis=2).min(axis=1)
        grown = taken | ((steps < STEP) & (np.abs(shared - shared[0]).max(axis=1) < 0.25))
        if (grown == taken).all():
            return shared[taken]
        taken = grown


def flat_colours(density: np.ndarray, densest: float = DENSEST) -> set[tuple[int, ...]]:
    """Colours, in steps of BIN, that cover enough of a frame in flat stretches and are thinner than `densest` [D]."""
    even, mean = flat(density)
    thinnest = lowest(mean)
    film = even & (thinnest < densest) & (thinnest > -0.3)
    steps = cv2.multiply(mean, (1 / BIN,) * 4, dtype=cv2.CV_16S).reshape(-1, 3)  # type: ignore[call-overload]
    places = np.flatnonzero(film)
    packed = np.zeros(len(places), np.int32)
    for i in range(3):
        packed <<= 10
        packed += steps[:, i][places]
        packed += 64
    keys, counts = np.unique(packed, return_counts=True)
    enough = keys[counts > SHARE * density.shape[0] * density.shape[1]]
    return {(int(key >> 20) - 64, int(key >> 10 & 1023) - 64, int(key & 1023) - 64) for key in enough}


def distance_to_base(density: np.ndarray, levels: np.ndarray) -> np.ndarray:
    """How far [D] a pixel's worst layer lies over the nearest level; negative where it is thinner than all of them."""
    return farthest(density, levels.astype(np.float32))


def near_base(density: np.ndarray, levels: np.ndarray, radius: float = 0.05) -> np.ndarray:
    """Pixels within a radius [D] of some level of the base, in all layers."""
    found = np.zeros(density.shape[:2], np.uint8)
    for level in levels.astype(float):
        np.bitwise_or(found, cv2.inRange(density, tuple(level - radius), tuple(level + radius)), out=found)
    return found > 0


def base_coloured(density: np.ndarray, levels: np.ndarray) -> np.ndarray:
    """Flat pixels of the base's colour, wherever they lie."""
    even, mean = flat(density)
    return even & near_base(mean, levels)


def base_coloured_in(density: np.ndarray, levels: np.ndarray, part: Part) -> np.ndarray:
    """`base_coloured` of a part of a frame, as the whole frame has it there."""
    (top, bottom), (left, right) = ((cut.start, cut.stop) for cut in part)
    above, before = max(0, top - REACH), max(0, left - REACH)
    seen = base_coloured(density[above : bottom + REACH, before : right + REACH], levels)
    return seen[top - above : bottom - above, left - before : right - before]


def base_of_pixels(values: np.ndarray) -> np.ndarray | None:
    """Median (3,) [D] of base-coloured pixels (n, 3); None when there are fewer than 60."""
    return medians(values) if len(values) >= FEWEST else None
