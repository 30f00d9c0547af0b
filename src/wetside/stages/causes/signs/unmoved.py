"""What a roll's pictures hold in common at their places: a density that stays while the pictures change.

Theory. A picture is even almost everywhere and steps at the outlines of things; what lies over all pictures alike adds its
own steps everywhere, at the same places. So the step that most pictures share, by a mean that leaves out what lies far from
the rest (Cauchy's), is what stays, also where each picture's own densities differ by far more. Those steps, each as sure as
the pictures agree on it, are put together again by least squares (Poisson's equation with weights). The whole level, tilts,
bends and the corners that a lens darkens are taken off: those are casts, and no marks.
"""

from __future__ import annotations

import numpy as np

#: Width [D a cell] of the mean that leaves out what lies far from the rest; how often it is refined.
WIDTH, ROUNDS = 0.01, 8
#: How little the level is held at all, beside the middle certainty of its steps.
HELD = 1e-3
#: Correlation from which two pictures are of one view, in the middle one of so many by so many parts of them.
SAME_VIEW, PARTS = 0.25, 6


def steps(pictures: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Steps of density [D] from cell to cell of pictures (n, h, w): along (n, h, w − 1) and down (n, h − 1, w)."""
    return np.diff(pictures, axis=2), np.diff(pictures, axis=1)


def shared(own: np.ndarray, counts: np.ndarray, width: float = WIDTH) -> tuple[np.ndarray, np.ndarray]:
    """The step that most of some (n, …) share, each counting so much (n,), and how much they agree on it; NaN counts nothing."""
    known = np.isfinite(own)
    value = np.where(known, own, 0).astype(np.float32)
    counted = known * counts.reshape(-1, *[1] * (own.ndim - 1)).astype(np.float32)
    middle = np.where(known.any(axis=0), np.median(value, axis=0), 0)
    weight = counted
    for _ in range(ROUNDS):
        weight = counted / (1 + ((value - middle) / width) ** 2)
        middle = (weight * value).sum(axis=0) / np.maximum(weight.sum(axis=0), 1e-6)
    return middle, weight.sum(axis=0)


def laid(along: np.ndarray, down: np.ndarray, sure_along: np.ndarray, sure_down: np.ndarray) -> np.ndarray:
    """The density (h, w) [D] whose steps are these (h, w − 1) and (h − 1, w), as far as each is sure."""
    from scipy.sparse import coo_array, diags_array, eye_array
    from scipy.sparse.linalg import spsolve

    tall, wide = along.shape[0], down.shape[1]
    cell = np.arange(tall * wide).reshape(tall, wide)
    first = np.concatenate([cell[:, :-1].ravel(), cell[:-1].ravel()])
    second = np.concatenate([cell[:, 1:].ravel(), cell[1:].ravel()])
    sure = np.concatenate([sure_along.ravel(), sure_down.ravel()]).astype(float) ** 2
    count = len(first)
    ends = (np.tile(np.arange(count), 2), np.concatenate([first, second]))
    differ = coo_array((np.repeat([-1.0, 1.0], count), ends), shape=(count, cell.size)).tocsc()
    weighed = differ.T @ diags_array(sure)
    held = HELD * max(float(sure.mean()), 1e-12) * eye_array(cell.size)
    step = np.concatenate([along.ravel(), down.ravel()])
    found = spsolve((weighed @ differ + held).tocsc(), weighed @ step)
    return np.asarray(found, np.float32).reshape(tall, wide)


def unmoved(pictures: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """Density (h, w) [D] that stays over pictures (n, h, w), each counting so much (n,); what is smooth all over is taken off."""
    along, down = steps(pictures)
    (step_along, sure_along), (step_down, sure_down) = shared(along, counts), shared(down, counts)
    return without_casts(laid(step_along, step_down, sure_along, sure_down))


def without_casts(density: np.ndarray) -> np.ndarray:
    """A density (h, w) less the low surface that lies through most of it: level, tilts, bends, dark corners."""
    tall, wide = density.shape
    v, u = (one.ravel() for one in np.mgrid[-1 : 1 : tall * 1j, -1 : 1 : wide * 1j])
    terms = np.stack([np.ones_like(u), u, v, u * v, u * u, v * v, (u * u + v * v) ** 2], axis=1)
    own = density.ravel().astype(float)
    weight = np.ones_like(own)
    for _ in range(4):
        weighed = terms * weight[:, None]
        off = own - terms @ np.linalg.solve(weighed.T @ terms, weighed.T @ own)
        wide_ = max(4.685 * 1.4826 * float(np.median(np.abs(off))), 1e-4)
        weight = np.where(np.abs(off) < wide_, (1 - (off / wide_) ** 2) ** 2, 1e-6)
    return off.reshape(tall, wide)


def counts_of(pictures: np.ndarray) -> np.ndarray:
    """How much each picture (n, h, w) counts (n,): those of one view count once together."""
    parts = [_parts(one) for one in pictures]
    alike = np.array([[float(np.median((a * b).sum(axis=1))) for b in parts] for a in parts])
    return 1 / np.maximum(1, (alike > SAME_VIEW).sum(axis=1))


def _parts(picture: np.ndarray) -> np.ndarray:
    """Steps along and down within the parts of a picture (parts, n), each part of length 1."""
    tall, wide = (size // PARTS for size in picture.shape)
    along, down = steps(np.nan_to_num(picture[None].astype(np.float32)))
    both = np.stack(
        [along[0, : tall * PARTS - 1, : wide * PARTS - 1], down[0, : tall * PARTS - 1, : wide * PARTS - 1]]
    )
    both = np.pad(both, ((0, 0), (0, 1), (0, 1))).clip(-0.05, 0.05)
    own = both.reshape(2, PARTS, tall, PARTS, wide).transpose(1, 3, 0, 2, 4).reshape(PARTS * PARTS, -1)
    return own / np.maximum(np.sqrt((own * own).sum(axis=1, keepdims=True)), 1e-6)
