"""The exposed rectangle: where film is denser than its base. Frames of one roll share its size.

A picture's dark edge is as thin as the base, so an edge found alone can only lie too far inside. The roll's
size, taken from its well-seen frames, and the usual place then mend the few that do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.laws.image.layers import lowest
from wetside.stages.negative.found.base import distance_to_base

Edges = tuple[float, float, float, float]  # left, top, right, bottom in working pixels

TOLERANCE = 0.05
OPAQUE = 2.6
#: Columns and rows of a picture hold more than this share of exposed film.
SHOWN = 0.22
#: Columns of a gap between frames hold no more than this share of exposed film.
BARE = 0.02
#: A neighbour that reaches into a scan takes no more than this part of it.
SLIVER = 0.2
#: The holder's dilated rim hides this much of what lies beside it [px].
RIM = 6
#: A picture larger or smaller than the roll's by this share, and by the same along both sides, was scanned otherwise.
OTHER_SIZE, ALIKE = 0.05, 0.006


def exposed(density: np.ndarray, levels: np.ndarray) -> np.ndarray:
    """Film denser than its base by more than the tolerance in some layer, and not the holder."""
    smooth = cv2.GaussianBlur(density, (0, 0), 0.8)
    # The holder's blurred rim looks exposed: a few pixels round it do not count.
    holder = cv2.dilate((lowest(density) >= OPAQUE).astype(np.uint8), np.ones((9, 9), np.uint8))
    return (distance_to_base(smooth, levels) > TOLERANCE) & (holder == 0)


def longest_run(share: np.ndarray, threshold: float, gap: float) -> tuple[int, int] | None:
    """First and one-past-last index of the longest run above a threshold; gaps up to a part of the length are bridged."""
    indices = np.flatnonzero(share > threshold)
    if len(indices) == 0:
        return None
    cuts = np.flatnonzero(np.diff(indices) > max(1.0, gap * len(share)))
    starts, ends = np.r_[indices[0], indices[cuts + 1]], np.r_[indices[cuts], indices[-1]]
    longest = int(np.argmax(ends - starts))
    return int(starts[longest]), int(ends[longest]) + 1


def picture_edges(density: np.ndarray, levels: np.ndarray) -> Edges | None:
    """Edges of the picture in one frame, as far as this frame alone shows them."""
    on = exposed(density, levels)
    open_ = lowest(density) < OPAQUE
    _height, width = on.shape
    rows = _own_run(on[:, width // 5 : width - width // 5], open_, 1)
    if rows is None:
        return None
    columns = _own_run(on[rows[0] : rows[1]], open_, 0)
    if columns is None:
        return None
    rows = _own_run(on[:, columns[0] : columns[1]], open_, 1) or rows
    return _refined(density, levels, (columns[0], rows[0], columns[1], rows[1]))


def _own_run(on: np.ndarray, open_: np.ndarray, axis: int) -> tuple[int, int] | None:
    """The longest exposed run of columns (axis 0) or rows (1), less what lies beyond the gap to a neighbouring frame."""
    share = on.mean(axis=axis)
    run = longest_run(share, SHOWN, 0.05)
    if run is None:
        return None
    seen = np.flatnonzero(open_.mean(axis=axis) > 0.5)
    ends = (int(seen[0]), int(seen[-1]) + 1) if len(seen) else (0, len(share))
    first = _after_gap(share[run[0] : run[1]]) if run[0] <= ends[0] + RIM else 0
    last = _after_gap(share[run[0] : run[1]][::-1]) if run[1] >= ends[1] - RIM else 0
    return run[0] + first, run[1] - last


def _after_gap(share: np.ndarray) -> int:
    """Where a picture begins behind a neighbour's sliver and a gap without any exposed film; 0 where there is none."""
    bare = np.flatnonzero(share[: int(SLIVER * len(share))] <= BARE)
    if len(bare) == 0:
        return 0
    beyond = np.flatnonzero(share[bare[0] :] > SHOWN)
    return int(bare[0] + beyond[0]) if len(beyond) else 0


def _refined(density: np.ndarray, levels: np.ndarray, edges: Edges) -> Edges:
    """Each edge to a part of a pixel: where the mean step over the edge is half done."""
    left, top, right, bottom = (int(v) for v in edges)
    rows = slice(top + 2, bottom - 2) if bottom - top > 8 else slice(None)
    columns = slice(left + 2, right - 2) if right - left > 8 else slice(None)
    upright, lying = density[rows], density[:, columns].swapaxes(0, 1)
    each = ((upright, left, 1), (lying, top, 1), (upright, right, -1), (lying, bottom, -1))
    refined = [
        _hidden(part, levels, near, inward) or _half(part, levels, near, inward)
        for part, near, inward in each
    ]
    return refined[0], refined[1], refined[2], refined[3]


def _hidden(density: np.ndarray, levels: np.ndarray, near: int, inward: int) -> float | None:
    """Column where the holder cuts the picture: half of the light that comes through beside it; None where film lies outside.

    The holder's dilated rim hid what lies there; a rebate there is no picture however narrow.
    """
    first = near if inward > 0 else near - 1
    at = [i for i in range(first, first - (RIM + 1) * inward, -inward) if 0 <= i < density.shape[1]]
    least = lowest(density[:, at])
    if not ((least >= OPAQUE).mean(axis=0) > 0.5).any():
        return None
    light = np.power(10.0, -least).mean(axis=0)
    dark = int(np.argmax(light < 0.5 * light[0]))
    shown = (distance_to_base(density[:, at[:dark]], levels) > TOLERANCE).mean(axis=0)
    if dark == 0 or (shown <= SHOWN).any():
        return None
    part = (light[dark - 1] - 0.5 * light[0]) / (light[dark - 1] - light[dark])
    return float(at[dark - 1] - inward * part + 0.5)


def _half(density: np.ndarray, levels: np.ndarray, near: int, inward: int) -> float:
    """Column where the rows' mean crosses half of its step between 4 pixels outside and 4 inside."""
    n = density.shape[1]
    at = [i for i in range(near - 5 * inward, near + 5 * inward, inward) if 0 <= i < n]
    if len(at) < 6:
        return float(near)
    values = np.clip(distance_to_base(density[:, at], levels), 0, 1.0).mean(axis=0)
    low, high = float(np.min(values[:3])), float(np.median(values[-3:]))
    if high - low < 0.02:
        return float(near)
    level = low + 0.5 * (high - low)
    first = int(np.argmax(values > level))
    if first == 0:
        return float(near)
    part = (level - values[first - 1]) / max(values[first] - values[first - 1], 1e-6)
    place = at[first - 1] + inward * part
    return float(place + 0.5)


def uncovered(density: np.ndarray) -> Edges:
    """What the holder leaves of a frame (h, w, 3) [D] that shows no base: the longest stretch that is not opaque."""
    open_ = lowest(density) < OPAQUE
    height, width = open_.shape
    rows = longest_run(open_.mean(axis=1), 0.3, 0.05) or (0, height)
    columns = longest_run(open_[rows[0] : rows[1]].mean(axis=0), 0.5, 0.05) or (0, width)
    rows = longest_run(open_[:, columns[0] : columns[1]].mean(axis=1), 0.5, 0.05) or rows
    return float(columns[0]), float(rows[0]), float(columns[1]), float(rows[1])


def agreed(found: Sequence[Edges | None]) -> list[Edges | None]:
    """Edges of every frame, mended by the size and place that the roll's frames agree on."""
    seen = np.array([edges for edges in found if edges is not None], float)
    if len(seen) < 3:
        return list(found)
    size = np.array([_common(seen[:, 2] - seen[:, 0]), _common(seen[:, 3] - seen[:, 1])])
    well = seen[_well_seen(seen, size)]
    across, down = (_usual(well, axis, float(size[axis])) for axis in (0, 1))
    return [edges if _of_other_scale(edges, size) else _mended(edges, across, down) for edges in found]


def _of_other_scale(edges: Edges | None, size: np.ndarray) -> bool:
    """True for a picture of the roll's proportion and of another size: scanned at another scale, so its edges are its own."""
    if edges is None:
        return False
    wide, tall = (edges[2] - edges[0]) / size[0], (edges[3] - edges[1]) / size[1]
    return bool(abs(wide - 1) > OTHER_SIZE and abs(wide / tall - 1) < ALIKE)


@dataclass(frozen=True, slots=True)
class _Usual:
    """Along one axis: the size that frames share, where its two edges lie, and how far a frame's may lie from there."""

    size: float
    low: float
    high: float
    play: float


def _usual(well: np.ndarray, axis: int, size: float) -> _Usual:
    low, high = np.median(well[:, axis::2], axis=0)
    return _Usual(size, float(low), float(high), _play(well, axis))


def _play(well: np.ndarray, axis: int) -> float:
    """Three times the scatter of well-seen frames' middles, 0.6 % of their size at the least."""
    middles = (well[:, axis] + well[:, axis + 2]) / 2
    scatter = 1.4826 * float(np.median(np.abs(middles - np.median(middles))))
    return max(3.0, 0.006 * float(np.median(well[:, axis + 2] - well[:, axis])), 3 * scatter)


def _common(sizes: np.ndarray) -> float:
    """The size most frames share: the densest cluster, the larger one when two are equal."""
    tolerance = max(2.0, 0.006 * float(np.max(sizes)))
    counts = [(int((np.abs(sizes - size) <= tolerance).sum()), float(size)) for size in sizes]
    _, best = max(counts)
    return float(np.median(sizes[np.abs(sizes - best) <= tolerance]))


def _well_seen(seen: np.ndarray, size: np.ndarray) -> np.ndarray:
    width, height = seen[:, 2] - seen[:, 0], seen[:, 3] - seen[:, 1]
    good = (np.abs(width - size[0]) < 0.012 * size[0] + 2) & (np.abs(height - size[1]) < 0.012 * size[1] + 2)
    return good if good.any() else np.ones(len(seen), bool)


def _mended(edges: Edges | None, across: _Usual, down: _Usual) -> Edges | None:
    if edges is None:
        return across.low, down.low, across.high, down.high
    left, right = _side(edges[0], edges[2], across)
    top, bottom = _side(edges[1], edges[3], down)
    return left, top, right, bottom


def _side(low: float, high: float, usual: _Usual) -> tuple[float, float]:
    """A pair of edges of the right length; else that from the edge at its usual place, if one is; else the usual pair.

    An edge is found too far inside at the worst, so the pair must hold what was found between its edges.
    """
    if abs(high - low - usual.size) <= max(2.0, 0.006 * usual.size):
        return low, high
    from_low, from_high = abs(low - usual.low), abs(high - usual.high)
    if from_low <= min(from_high, usual.play):
        return low, low + usual.size
    if from_high <= usual.play:
        return high - usual.size, high
    if high - low > usual.size:
        return (low, low + usual.size) if from_low <= from_high else (high - usual.size, high)
    start = float(np.clip(usual.low, high - usual.size, low))
    return start, start + usual.size


def supposed(found: Edges | None, edges: Edges | None) -> bool:
    """True when along some axis neither edge of a picture lies where this frame alone showed one."""
    if found is None or edges is None:
        return True
    return any(min(abs(found[i] - edges[i]), abs(found[i + 2] - edges[i + 2])) > 3.0 for i in (0, 1))
