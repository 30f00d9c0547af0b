"""How many marks a detector would find that knows each mark's shape, size and layers, and not its place or strength.

The reference beside the finder's recall. The mark's own outline is laid on every place of the frame: a matched filter,
whitened by the frame's own spectrum and by how its layers go together (Turin's filter for a stationary ground), then
divided by how strongly it answers round about, since pictures are even in some places and busy in others. A mark counts
where the answer at its place is over what nine of ten frames without marks never reach anywhere. A finder must look for every
shape at once and would need a higher bound, so this is a generous reference; it is linear, so no strict limit.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

RINGS = 24
CALM = 0.002  # [D] grain that even a plain sky has at half size


@dataclass(frozen=True)
class Ground:
    """Spectrum (h, w/2+1, 3) of a frame's density and, at each frequency, the inverse of its layers' covariance."""

    spectrum: np.ndarray
    inverse: np.ndarray


def ground_of(half: np.ndarray) -> Ground:
    """The ground that a frame's density (h, w, 3) [D] at half size makes: covariance of layers by frequency."""
    height, width = half.shape[:2]
    spectrum = np.fft.rfft2(half - half.mean(axis=(0, 1)), axes=(0, 1))
    radius = np.hypot(np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None])
    ring = np.clip((np.log2(radius + 1e-3) + 8) * RINGS / 7.5, 0, RINGS - 1).astype(int)
    inverse = np.zeros((*ring.shape, 3, 3))
    floor = CALM**2 * height * width * np.eye(3)
    for one in np.unique(ring):
        own = spectrum[ring == one]
        inverse[ring == one] = np.linalg.inv((own.T @ own.conj()).real / len(own) + floor)
    return Ground(spectrum, inverse)


def answer(ground: Ground, weight: np.ndarray, delta: np.ndarray) -> np.ndarray:
    """(h, w): how far each place of the frame speaks for a mark of this weight (h, w, middle at 0, 0) and ΔD (3,)."""
    shape = np.fft.rfft2(weight)
    told = np.einsum("hwij,j,hwi->hw", ground.inverse, delta / np.linalg.norm(delta), ground.spectrum)
    plain = np.fft.irfft2(told * shape.conj(), weight.shape)
    reach = int(4 * np.sqrt((weight > 0.5).sum())) | 1
    local = cv2.blur(plain * plain, (reach, reach), borderType=cv2.BORDER_REFLECT)
    return np.abs(plain) / np.sqrt(local + 0.1 * (plain * plain).mean())


def centred(weight: np.ndarray) -> tuple[np.ndarray, tuple[int, int]]:
    """A weight moved so that its middle lies at the origin, and where its middle was (row, column)."""
    rows, columns = np.nonzero(weight > 0.5)
    at = round(float(rows.mean())), round(float(columns.mean()))
    return np.roll(weight, (-at[0], -at[1]), (0, 1)), at


def at_place(map_: np.ndarray, at: tuple[int, int], near: int = 2) -> float:
    """The strongest answer within a few pixels of a place."""
    top, left = max(0, at[0] - near), max(0, at[1] - near)
    return float(map_[top : at[0] + near + 1, left : at[1] + near + 1].max())


def faced(
    clean: np.ndarray, marked: np.ndarray, box: tuple[int, int, int, int], delta: np.ndarray
) -> tuple[float, float]:
    """The answer at a mark's place, and the strongest anywhere on the frame without marks; both densities (h, w, 3) [D]."""
    size = (clean.shape[1] // 2, clean.shape[0] // 2)
    before, after = (cv2.resize(one, size, interpolation=cv2.INTER_AREA) for one in (clean, marked))
    x, y, w, h = box
    pad = max(w, h) // 2 + 4
    place = (slice(max(0, y - pad), y + h + pad), slice(max(0, x - pad), x + w + pad))
    weight = np.zeros(clean.shape[:2], np.float32)
    weight[place] = (marked - clean)[place] @ delta / (delta @ delta)
    own, at = centred(cv2.resize(weight, size, interpolation=cv2.INTER_AREA))
    there = at_place(answer(ground_of(after), own, delta), at)
    return there, float(answer(ground_of(before), own, delta).max())


def bound(strongest: list[float]) -> float:
    """What nine of ten frames without marks never reach."""
    return float(np.percentile(strongest, 90))
