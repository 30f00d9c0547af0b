"""A stain taken off evened codes: its density along its own soft outline, and nothing else.

It is done on the evened codes because stray light must be off first: what a stain multiplies is the light through it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.stain import Stain


@dataclass(frozen=True)
class Lifted:
    """Factors (h, w, 3) float32 by which codes are raised from row `top` and column `left` of a frame on."""

    top: int
    left: int
    factors: np.ndarray


def lifted(stains: Iterable[Stain], shrink: float, height: int, width: int) -> tuple[Lifted, ...]:
    """Stains as factors 10^(density · weight) for a frame of this size, `shrink` pixels of the file a pixel."""
    found = []
    for stain in stains:
        left, top = round(stain.box.x / shrink), round(stain.box.y / shrink)
        size = max(1, round(stain.box.w / shrink)), max(1, round(stain.box.h / shrink))
        weight = cv2.resize(stain.weight.astype(np.float32) / 255, size, interpolation=cv2.INTER_LINEAR)
        weight = weight[: max(0, height - top), : max(0, width - left)]
        if weight.size:
            power = weight[..., None] * np.array(stain.density, np.float32)
            found.append(Lifted(top, left, np.power(np.float32(10), power)))
    return tuple(found)


def lift_strip(codes: np.ndarray, first: int, stains: Iterable[Lifted]) -> None:
    """Raise the codes (rows, w, 3) uint16 of a strip that begins at row `first`, in place."""
    for one in stains:
        top = max(0, one.top - first)
        bottom = min(len(codes), one.top + len(one.factors) - first)
        if top >= bottom:
            continue
        part = codes[top:bottom, one.left : one.left + one.factors.shape[1]]
        factors = one.factors[first + top - one.top : first + bottom - one.top]
        part[...] = cv2.multiply(np.ascontiguousarray(part), factors, dtype=cv2.CV_16U)
