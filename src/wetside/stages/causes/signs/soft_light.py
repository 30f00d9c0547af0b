"""Soft light at one place of every picture, from few frames: a leak through the shutter or by the film's edge.

Which question: does a soft denser spot stay where it is while the pictures change? What stays is asked by `stacked` without
knowing its shape, which takes many frames. A soft round spot has one shape, so each picture's steps, those of outlines held down,
are asked how well they fit one of a few sizes at every place (a matched filter); the fits are scaled by their own scatter
in that picture and summed over the pictures, each counting so much and none for more than five of its scatters, so no single
picture makes a spot. What lies along whole rows and columns, as skies do, is taken off. How far the sum strays by
itself is told by the same pictures, mirrored at random. Sitters in the middle of most pictures would be one such spot too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

#: Width [D a cell] over which steps count less and less; half widths of spots in parts of a picture's longer side.
WIDTH, REACHES = 0.02, (0.025, 0.042, 0.067)
#: What one picture counts at the most, in its own scatters; draws of mirrored pictures.
MOST, DRAWS = 5.0, 8
#: The sum must stand out so many of its strays, and so many times the most of any draw (set on 44 clean rolls, docs/studies.md).
CLEAR, ABOVE = 5.4, 1.15
#: Share of the pictures, as they count, that must show it, and from how many of its own scatters on a picture does.
OF_PICTURES, SHOWS = 0.55, 0.5
#: The most spots of a roll; how far from a spot, or from a thin place, no other is looked for, in parts of a picture's longer side: beside it lies its own rim.
SPOTS, APART = 3, 0.18


@dataclass(frozen=True)
class Spot:
    """A spot that stays: its middle and half width [cells], how many strays it stands out, which pictures show it (n,) bool."""

    x: int
    y: int
    reach: float
    strays: float
    shown: np.ndarray

    def inside(self, shape: tuple[int, int], reaches: tuple[float, float] = (0.0, 0.8)) -> np.ndarray:
        """Cells (h, w) bool between two distances from its middle, in half widths."""
        y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
        away = np.hypot(x - self.x, y - self.y) / self.reach
        return np.asarray((away >= reaches[0]) & (away < reaches[1]))


def soft_spots(pictures: np.ndarray, counts: np.ndarray) -> list[Spot]:
    """Soft denser spots that stay in pictures (n, h, w) [D], each counting so much (n,), the clearest first."""
    fits = np.stack([_fits(one) for one in pictures])
    rng = np.random.default_rng(len(pictures))
    draws = np.stack([_summed(_mirrored(fits, rng), counts) for _ in range(DRAWS)])
    scale = np.sqrt((draws**2).mean(axis=(0, 2, 3)))[:, None, None]
    bound = max(CLEAR, ABOVE * float(np.abs(draws / scale).max()))
    left, found = _summed(fits, counts) / scale, list[Spot]()
    while len(found) < SPOTS and np.abs(left).max() > bound:
        size, y, x = (int(v) for v in np.unravel_index(int(np.abs(left).argmax()), left.shape))
        shown = fits[:, size, y, x] > SHOWS
        spot = Spot(x, y, REACHES[size] * max(pictures.shape[1:]), float(left[size, y, x]), shown)
        if spot.strays > 0 and counts[shown].sum() >= OF_PICTURES * counts.sum():
            found.append(spot)
        left[:, _near(spot, left.shape[1:])] = 0
    return found


def _near(spot: Spot, shape: tuple[int, int]) -> np.ndarray:
    """Cells (h, w) bool round a spot where no other is looked for."""
    return spot.inside(shape, (0.0, APART * max(shape) / spot.reach))


def _fits(picture: np.ndarray) -> np.ndarray:
    """How well a picture's steps (h, w) [D] fit a spot of each size at every place (sizes, h, w), in their own scatters."""
    along, down = (np.diff(picture, axis=axis, prepend=np.nan).astype(np.float32) for axis in (1, 0))
    held = [np.nan_to_num(step / (1 + (step / WIDTH) ** 2)) for step in (along, down)]
    found = []
    for reach in REACHES:
        fit = sum(
            cv2.filter2D(step, -1, want, borderType=cv2.BORDER_CONSTANT)
            for step, want in zip(held, _steps_of_a_spot(reach * max(picture.shape)), strict=True)
        )
        scatter = 1.4826 * float(np.median(np.abs(fit))) + 1e-4
        own = fit / scatter / (1 + np.abs(fit) / scatter / MOST)
        found.append(own - own.mean())
    return np.stack(found)


@cache
def _steps_of_a_spot(reach: float) -> tuple[np.ndarray, np.ndarray]:
    """Steps along and down of a soft round spot of this half width [cells]."""
    far = int(np.ceil(1.7 * reach + 2))
    y, x = np.mgrid[-far : far + 1, -far : far + 1]
    spot = np.clip((reach - np.hypot(x, y)) / (1.4 * reach) + 0.5, 0, 1).astype(np.float32)
    return np.diff(spot, axis=1, prepend=0), np.diff(spot, axis=0, prepend=0)


def _summed(fits: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """Fits (n, sizes, h, w) of all pictures together, what lies along whole rows and columns taken off (sizes, h, w)."""
    every = np.tensordot(counts, fits, 1)
    rows, columns = every.mean(axis=2, keepdims=True), every.mean(axis=1, keepdims=True)
    return np.asarray(every - rows - columns + every.mean(axis=(1, 2), keepdims=True))


def _mirrored(fits: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Fits of pictures that are mirrored at random, where nothing can stay."""
    ways = rng.permutation(len(fits)) % 4
    return np.stack([one[:, :: 1 - 2 * (way & 1), :: 1 - (way & 2)] for one, way in zip(fits, ways)])
