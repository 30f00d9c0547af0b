"""Where a known step of density was added: the area whose step, taken out, leaves the least change from place to place."""

from __future__ import annotations

import numpy as np

#: Differences are taken over this many pixels, so that an edge that is soft over as many counts as a whole step.
REACH = 3
OUT, IN, FREE = 0, 1, -1
_FINE = 1000.0
_SURE = 1_000_000


def least_change(
    density: np.ndarray, step: np.ndarray, known: np.ndarray, ground: np.ndarray, smooth: float = 1.0
) -> np.ndarray:
    """The area (h, w) bool over which adding `step` explains most of the change of a density.

    Over all areas that keep what is known it is the least of Σ |Δdensity − step·Δarea| over pairs of pixels three apart
    (along, across, both diagonals), plus `smooth` a pixel of outline; differences are measured against the picture's own
    scatter, in all layers together. The least is found exactly, as a cut of a graph.

    density (h, w, 3) [D]; step (3,) [D]; known (h, w): 1 in the area, 0 outside it, −1 free; ground (h, w): places are
    compared only where it is alike and not 0 (picture 1, film 2), and scatter is that of where it is 1. Both 1 and 0 must occur in `known`, or the answer is all of one kind. Source: computed (Greig, Porteous and Seheult's cut for two labels; Kolmogorov and Zabih's
    condition holds by the triangle's inequality).
    """
    unary, pairs = _change_of_steps(density, step, ground)
    return _least_cut(unary, pairs + _outline(known.shape, smooth), known)


#: Pixels p and q, and what it costs [in thousandths once it is cut] that p lies in the area and q does not.
Pairs = list[tuple[np.ndarray, np.ndarray, np.ndarray]]


def _change_of_steps(density: np.ndarray, step: np.ndarray, ground: np.ndarray) -> tuple[np.ndarray, Pairs]:
    """What each pixel costs in the area, and each pair three apart that the area parts; both by the step it would add."""
    height, width = ground.shape
    number = np.arange(height * width).reshape(height, width)
    white = whitening(density, ground)
    flat, jump = density.astype(np.float64) @ white.T, step @ white.T
    unary = np.zeros(height * width)
    pairs: Pairs = []
    for dy, dx in ((0, REACH), (REACH, 0), (REACH - 1, REACH - 1), (REACH - 1, 1 - REACH)):
        one, two = _pair(height, width, dy, dx)
        change = (flat[two] - flat[one])[alike := (ground[one] == ground[two]) & (ground[one] > 0)]
        still = np.linalg.norm(change, axis=-1)
        leaves = np.linalg.norm(change + jump, axis=-1) - still
        enters = np.linalg.norm(change - jump, axis=-1) - still
        p, q = number[one][alike], number[two][alike]
        # E(0, 1) = enters may be negative: it moves to the single terms, and both stay non-negative together.
        np.add.at(unary, q, enters)
        np.add.at(unary, p, -enters)
        pairs.append((p, q, leaves + enters))
    return unary, pairs


def _outline(shape: tuple[int, ...], smooth: float) -> Pairs:
    """What each pixel of outline costs, from either side."""
    height, width = shape
    number = np.arange(height * width).reshape(height, width)
    pairs: Pairs = []
    for dy, dx in ((0, 1), (1, 0)):
        one, two = _pair(height, width, dy, dx)
        p, q = number[one].ravel(), number[two].ravel()
        pairs += [(p, q, np.full(len(p), smooth)), (q, p, np.full(len(p), smooth))]
    return pairs


def _least_cut(unary: np.ndarray, pairs: Pairs, known: np.ndarray) -> np.ndarray:
    """The area (h, w) bool that costs least, as the source's side of a graph's least cut."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import breadth_first_order, maximum_flow

    source, sink = known.size, known.size + 1
    every, is_known = np.arange(known.size), known.ravel()
    # A cut from p (in, the source's side) to q (out) costs E(1, 0).
    to_in = np.where(is_known == IN, _SURE, np.maximum(-unary, 0))
    to_out = np.where(is_known == OUT, _SURE, np.maximum(unary, 0))
    ends = [(np.full(known.size, source), every, to_in), (every, np.full(known.size, sink), to_out)]
    rows, columns, costs = (np.concatenate(part) for part in zip(*pairs, *ends))
    capacity = np.round(np.minimum(costs, _SURE) * _FINE).astype(np.int32)
    size = known.size + 2
    graph = coo_array((capacity, (rows, columns)), shape=(size, size)).tocsr()
    left = graph - maximum_flow(graph, source, sink).flow
    left.data[left.data < 0] = 0
    left.eliminate_zeros()
    area = np.zeros(size, bool)
    area[breadth_first_order(left, source, return_predecessors=False)] = True
    found: np.ndarray = area[: known.size].reshape(known.shape)
    return found


def _pair(height: int, width: int, dy: int, dx: int) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Slices of all pixels that have one (dy, dx) away, and of those."""
    left = slice(max(0, -dx), width - max(0, dx)), slice(max(0, dx), width - max(0, -dx))
    return (slice(0, height - dy), left[0]), (slice(dy, height), left[1])


def whitening(density: np.ndarray, ground: np.ndarray) -> np.ndarray:
    """(3, 3): differences of the picture times this have unit scatter in every direction of the layers' space."""
    picture = ground == 1
    across = (density[:, REACH:] - density[:, :-REACH])[picture[:, REACH:] & picture[:, :-REACH]]
    down = (density[REACH:] - density[:-REACH])[picture[REACH:] & picture[:-REACH]]
    change = np.concatenate([across, down]).astype(np.float64)
    size = np.linalg.norm(change, axis=1)
    usual = change[size <= np.percentile(size, 90)] if len(size) else change
    values, axes = np.linalg.eigh(usual.T @ usual / max(1, len(usual)) + 0.003**2 * np.eye(3))
    found: np.ndarray = axes @ np.diag(values**-0.5) @ axes.T
    return found
