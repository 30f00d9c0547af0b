"""How far a picture lies turned in its scan, from the slopes of its upper and lower edges."""

from __future__ import annotations

from itertools import pairwise

import cv2
import numpy as np

from wetside.stages.negative.found.base import distance_to_base
from wetside.stages.negative.found.picture import Edges, picture_edges

STRIPS = 24
#: Under this angle [degrees] the corners of a frame move by less than half a per cent of its width.
SEEN = 0.25
MOST = 6.0


def skew(density: np.ndarray, levels: np.ndarray, edges: Edges) -> float | None:
    """Angle [degrees], clockwise positive, by which the picture is turned; None where its edges do not tell.

    density (h, w, 3) [D]; edges as found without regard to skew. Each edge is met in 24 places and a line laid
    through them by the median of pairwise slopes (Theil–Sen), so that dark stretches of picture do not count.
    """
    slopes = [slope for near, inward in ((edges[1], 1), (edges[3], -1))
              if (slope := _slope(density, levels, edges, near, inward)) is not None]  # fmt: skip
    if not slopes or (len(slopes) == 2 and abs(slopes[0] - slopes[1]) > 0.006):
        return None
    return float(np.degrees(np.arctan(np.mean(slopes))))


def _slope(density: np.ndarray, levels: np.ndarray, edges: Edges, near: float, inward: int) -> float | None:
    left, right = edges[0], edges[2]
    reach = max(6, round(0.5 * np.tan(np.radians(MOST)) * (right - left)))
    bounds = np.linspace(left + 0.04 * (right - left), right - 0.04 * (right - left), STRIPS + 1).astype(int)
    outside_in = range(int(near) - reach * inward, int(near) + reach * inward, inward)
    rows = [r for r in outside_in if 0 <= r < len(density)]
    above = np.clip(distance_to_base(density[rows], levels), 0, 1.0)
    places = []
    for first, last in pairwise(bounds):
        crossing = _crossing(above[:, first : max(first + 1, last)].mean(axis=1))
        if crossing is not None:
            places.append(((first + last) / 2, rows[0] + inward * crossing))
    if len(places) < STRIPS // 2:
        return None
    x, y = np.array(places).T
    i, j = np.triu_indices(len(x), 1)
    slope = float(np.median((y[j] - y[i]) / (x[j] - x[i])))
    left_over = y - slope * x
    return slope if np.median(np.abs(left_over - np.median(left_over))) < 1.5 else None


def _crossing(profile: np.ndarray) -> float | None:
    """Place where a profile, from outside inwards, first stays over half of its step; None without a step of 0.06 D."""
    if len(profile) < 8:
        return None
    # The holder beyond the film is dense too: begin at the thinnest place.
    start = int(np.argmin(profile[: len(profile) // 2 + 2]))
    low, high = float(profile[start]), float(np.median(profile[-len(profile) // 4 :]))
    if high - low < 0.06:
        return None
    over = profile[start:] > low + 0.5 * (high - low)
    first = int(np.argmax(over))
    return start + float(first) if over[first] else None


def unskewed_edges(density: np.ndarray, levels: np.ndarray, edges: Edges, angle: float) -> Edges:
    """Edges of a picture turned by `angle` [degrees]: its true size, upright, about its true middle."""
    middle = ((edges[0] + edges[2]) / 2, (edges[1] + edges[3]) / 2)
    turn = cv2.getRotationMatrix2D(middle, angle, 1)
    upright = cv2.warpAffine(
        density, turn, density.shape[1::-1], flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    found = picture_edges(upright, levels)
    if found is None:
        return edges
    back = cv2.invertAffineTransform(turn)
    x, y = back @ np.array([(found[0] + found[2]) / 2, (found[1] + found[3]) / 2, 1.0])
    w, h = found[2] - found[0], found[3] - found[1]
    return x - w / 2, y - h / 2, x + w / 2, y + h / 2
