"""Bands across the pictures where the developer came late or soon, as a splash or a slow pour leaves them.

Which question: is development stronger along a stretch of the film, over the whole height of the picture? Needs pictures above
a known base. Over a band the logarithm of density above base steps alike in every row, whatever the picture holds there; a
thing in the picture steps in some rows and not in others. So in each of six parts of the height the step that most rows share
is taken, the steps are summed along the film, and a band must stand out in all of them, nearly alike.
Poles, trunks and doors do so too, in about one picture of fourteen: bands are claimed only where a roll has more of them than
its pictures would give by chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import pdtrc

from wetside.figures.channels import rgb
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, Mark
from wetside.stages.causes.signs.film import Lie, placed
from wetside.stages.causes.signs.unmoved import shared

#: Parts of the picture's height; how near steps must lie to be one [natural log]; half widths of bands in parts of the length.
PARTS, NEAR, HALVES = 6, 0.03, (0.021, 0.033, 0.05)
#: Least step [natural log] that all parts but one show, how near to the middle one it must come, and how large the error of
#: all parts may be beside it.
LEAST, ALIKE, EVEN = 0.13, 0.55, 0.16
#: Pictures this thin above their base [D] tell nothing.
THINNEST = 0.06
#: Bands that photographs without any seem to hold, one in so many (docs/studies.md), and how improbable it must be that
#: they alone give so many.
MISTAKEN, BY_CHANCE = 0.07, 0.01
FEWEST, MOST = 4, 8
#: The chance that a band claimed on a roll of many is one (judged by the share that pictures give).
CHANCE = 0.93


@dataclass(frozen=True)
class Band:
    """Where a band lies along the picture (0 to 1), its half width, its step and that step's scatter [natural log], ΔD (3,) [D]."""

    at: float
    half: float
    step: float
    scatter: float
    delta: np.ndarray


def bands_of_roll(
    pictures: Sequence[np.ndarray], bases: Sequence[np.ndarray | None], counts: np.ndarray
) -> list[list[Band]]:
    """Bands of each picture (h, w, 3) [D] above its base (3,); none at all where pictures alone may give as many.

    `counts` (n,): how much each picture counts, for those of one view hold the same poles and doors.
    """
    found = [
        [] if base is None else bands_in(one.astype(np.float32) - base)
        for one, base in zip(pictures, bases, strict=True)
    ]
    count = int(sum(len(own) * share for own, share in zip(found, counts, strict=True)))
    by_chance = float(pdtrc(count - 1, MISTAKEN * float(counts.sum()))) if count else 1.0
    return found if count >= FEWEST and by_chance < BY_CHANCE else [[] for _ in found]


def bands_in(above: np.ndarray) -> list[Band]:
    """Bands of one picture (h, w, 3) [D above base], the strongest first."""
    profiles = profiles_along(above)
    wide = profiles.shape[1]
    halves = [max(2.0, half * wide) for half in HALVES]
    every = np.stack([contrast(profiles, half) for half in halves])
    ordered = np.sort(every, axis=1)
    low, middle = ordered[:, 1], ordered[:, 2:4].mean(axis=1)
    low = np.where((ordered[:, 0] > 0) & (low > ALIKE * middle), low, 0.0)
    low[:, :3] = low[:, -3:] = 0
    found: list[Band] = []
    while len(found) < MOST and low.max() > LEAST:
        size, at = np.unravel_index(int(low.argmax()), low.shape)
        half = halves[int(size)]
        one = _band(above, every[size, :, at], int(at), half)
        found += [one] if one.scatter < EVEN * one.step else []
        low[:, max(0, int(at - 2 * half)) : int(at + 2 * half) + 1] = 0
    return found


def profiles_along(above: np.ndarray) -> np.ndarray:
    """Profiles (parts, w) along the film of the logarithm of density above base (h, w, 3), by the steps that most rows share."""
    thin = ~(above.min(axis=2) > THINNEST)
    logs = np.log(np.maximum(np.nan_to_num(above), 0.03)).mean(axis=2)
    logs[thin] = np.nan
    found = []
    for rows in np.array_split(np.diff(logs, axis=1), PARTS):
        step, _ = shared(rows, np.ones(len(rows)), NEAR)
        found.append(np.concatenate([[0.0], np.cumsum(step)]))
    return np.stack(found)


def contrast(profiles: np.ndarray, half: float) -> np.ndarray:
    """By how much profiles (parts, w) stand over both sides of a stretch of this half width, at every place."""
    away = np.arange(-round(2.4 * half), round(2.4 * half) + 1)
    inside, side = np.abs(away) <= 0.8 * half, np.abs(away) >= 1.5 * half
    kernel = inside / inside.sum() - side / side.sum()
    wide = np.pad(profiles, ((0, 0), (len(away) // 2, len(away) // 2)), mode="edge")
    return np.stack([np.convolve(one, kernel[::-1], mode="valid") for one in wide])


def _band(above: np.ndarray, parts: np.ndarray, at: int, half: float) -> Band:
    step, wide = float(np.median(parts)), above.shape[1]
    inside = above[:, max(0, round(at - half)) : round(at + half) + 1].reshape(-1, 3)
    delta = (1 - np.exp(-step)) * np.nanmedian(inside, axis=0)
    return Band((at + 0.5) / wide, half / wide, step, float(parts.std(ddof=1) / np.sqrt(PARTS)), delta)


def with_bands(
    reading: FrameReading, inner: Rectangle, bands: Sequence[Band], number: int, lie: Lie
) -> FrameReading:
    """A frame's reading with its bands added as marks, from rim to rim of the picture's inner part."""
    marks = [replace(placed(_mark(one, inner), reading.picture, number, lie), across=None) for one in bands]
    return replace(reading, marks=(*reading.marks, *marks))


def _mark(one: Band, inner: Rectangle) -> Mark:
    left = max(inner.x, round(inner.x + (one.at - one.half) * inner.w))
    right = min(inner.x + inner.w, round(inner.x + (one.at + one.half) * inner.w))
    box = Rectangle(left, inner.y, max(1, right - left), inner.h)
    spread = np.abs(one.delta) * one.scatter / max(one.step, 1e-3)
    return Mark(box, None, None, rgb(one.delta), "soft", "band", rgb(spread), None, (), CHANCE)
