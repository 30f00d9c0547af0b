"""Where neutral lies on a roll of which nothing else is known: three things that pictures share, and the middle of what they say.

The brightest places of a frame are mostly white things and lights; the commonest colour of a roll is mostly grey; and the
strongest edges go from dark to light without a hue. Each is wrong at times, seldom two in the same way. On
photographs with the brightest of their codes left out (docs/studies.md) the middle one was off by 0.22 stop on rolls of
six, where the middle colour of the pictures was off by 0.84. *computed*
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

BRIGHT = 97.0
STEP = 0.02
REACH = 1.2
#: Pictures thinner than this above base [D] in any layer tell nothing of colour.
THIN = 0.03
FEWEST = 100


def slopes_by_edges(pieces: Sequence[np.ndarray]) -> np.ndarray | None:
    """How much each layer's density changes from place to place (3,), where all are out of the toe; None where too little does."""
    found = []
    for piece in pieces:
        for one, two in ((piece[1:], piece[:-1]), (piece[:, 1:], piece[:, :-1])):
            there = (np.minimum(one, two) > 0.2).all(axis=2)
            found.append(np.abs(one - two)[there])
    steps = np.concatenate(found) if found else np.zeros((0, 3))
    if len(steps) < FEWEST or (steps.mean(axis=0) < 0.004).any():
        return None
    mean: np.ndarray = steps.mean(axis=0)
    return mean


def neutral_offsets(pieces: Sequence[np.ndarray], there: Sequence[np.ndarray]) -> tuple[np.ndarray, float]:
    """Offsets (3,) of the layers' log exposures from green's at which the roll is neutral, and how far the three ways lie apart [log10].

    pieces (h, w, 3) of log exposure; there (h, w) bool, where it may be used.
    """
    used = [piece[seen] for piece, seen in zip(pieces, there) if seen.sum() >= FEWEST]
    if not used:
        return np.zeros(3), float("nan")
    ways = np.stack([_brightest(used), _commonest(used), _edges(pieces, there)])
    ways = ways[np.isfinite(ways).all(axis=1)]
    return np.median(ways, axis=0), float(np.ptp(ways, axis=0).max())


def _less_green(values: np.ndarray) -> np.ndarray:
    found: np.ndarray = values - values[1]
    return found


def _brightest(used: Sequence[np.ndarray]) -> np.ndarray:
    """The middle over frames of what their brightest places are."""
    found = []
    for values in used:
        level = values.mean(axis=1)
        found.append(_less_green(np.median(values[level >= np.percentile(level, BRIGHT)], axis=0)))
    middle: np.ndarray = np.median(found, axis=0)
    return middle


def _commonest(used: Sequence[np.ndarray]) -> np.ndarray:
    """The commonest colour of the roll, each frame's part of it as its root, so that no even sky decides."""
    centre = np.median([_less_green(np.median(values, axis=0)) for values in used], axis=0)
    many = round(2 * REACH / STEP)
    counts = np.zeros((many, many))
    for values in used:
        red, blue = values[:, 0] - values[:, 1] - centre[0], values[:, 2] - values[:, 1] - centre[2]
        frame, _, _ = np.histogram2d(red, blue, bins=many, range=[[-REACH, REACH]] * 2)
        counts += np.sqrt(frame) / max(1.0, float(np.sqrt(frame).sum()))
    smooth = cv2.GaussianBlur(counts, (0, 0), 2.5)
    row, column = np.unravel_index(int(smooth.argmax()), smooth.shape)
    at = (np.arange(many) + 0.5) * STEP - REACH
    return centre + np.array([at[row], 0.0, at[column]])


def _edges(pieces: Sequence[np.ndarray], there: Sequence[np.ndarray]) -> np.ndarray:
    """The middle over frames of the fourth-power mean of the steps of exposure; not a number where no frame has room for it."""
    found = []
    for piece, seen in zip(pieces, there):
        if min(piece.shape[:2]) < 8 or seen.sum() < FEWEST:
            continue
        light = np.power(10.0, piece - np.median(piece[seen]))
        soft = cv2.GaussianBlur(np.minimum(light, 1e3), (0, 0), 1.0)
        steps = np.hypot(np.diff(soft, axis=1)[:-1], np.diff(soft, axis=0)[:, :-1])[seen[:-1, :-1]]
        found.append(_less_green(0.25 * np.log10(np.mean(steps**4, axis=0) + 1e-30)))
    middle: np.ndarray = np.median(found, axis=0) if found else np.full(3, np.nan)
    return middle
