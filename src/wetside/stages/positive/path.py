"""The pixel path: scan values in, evened 16-bit codes, picture out, a strip at a time.

Because the evened codes are whole numbers of 16 bits, the library holds all of the transform that works on one channel
alone as one table of 65,536 entries: exact at every code, and many times quicker than computing it for every pixel.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
import PyOpenColorIO as ocio

from wetside.stages.positive.evening import NO_VEIL, EvenMap, Veil, evened_strip
from wetside.stages.positive.softening import Lifted, lift_strip

#: Rows at a time: where every row of the map is there, and where its rows must first be made, which have to stay in the cache.
STRIP, MADE = 256, 32
Depth = Literal["u8", "u16", "f32"]
_DEPTHS = {
    "u8": (ocio.BIT_DEPTH_UINT8, np.uint8),
    "u16": (ocio.BIT_DEPTH_UINT16, np.uint16),
    "f32": (ocio.BIT_DEPTH_F32, np.float32),
}


class Through:
    """A transform group as a function from evened 16-bit codes to pixels of a depth."""

    def __init__(self, group: ocio.GroupTransform, depth: Depth) -> None:
        self.bits, self.dtype = _DEPTHS[depth]
        processor = ocio.Config.CreateRaw().getProcessor(group)
        self.cpu = processor.getOptimizedCPUProcessor(
            ocio.BIT_DEPTH_UINT16, self.bits, ocio.OPTIMIZATION_VERY_GOOD
        )

    def __call__(self, codes: np.ndarray, out: np.ndarray) -> None:
        """Pixels of `codes` (rows, w, 3) uint16 into `out`, both contiguous."""
        rows, width = codes.shape[:2]
        self.cpu.apply(
            ocio.PackedImageDesc(codes, width, rows, 3, ocio.BIT_DEPTH_UINT16, 2, 6, 6 * width),
            ocio.PackedImageDesc(
                out, width, rows, 3, self.bits, out.itemsize, 3 * out.itemsize, 3 * out.itemsize * width
            ),
        )


def strips(
    values: np.ndarray, dark: float, even: EvenMap, veil: Veil = NO_VEIL, stains: tuple[Lifted, ...] = ()
) -> Iterator[tuple[int, np.ndarray]]:
    """First row and evened codes (rows, w, 3) uint16 of a frame's values (h, w, 3), from top to bottom; each good until
    the next is asked for."""
    as_is = (
        even.plain and not dark and values.dtype == np.uint16 and even.gain * 65535.0 == 1.0
        and not any(veil) and not stains
    )  # fmt: skip
    rows = STRIP if even.full or even.plain else MADE
    room = np.empty((0 if as_is else rows, *values.shape[1:]), np.uint16)
    for top in range(0, values.shape[0], rows):
        part = values[top : top + rows]
        if as_is:
            yield top, np.ascontiguousarray(part)
        else:
            factors, scale = even.scaled(top, len(part))
            codes = evened_strip(part, dark, factors, room[: len(part)], veil, scale)
            lift_strip(codes, top, stains)
            yield top, codes


def developed(
    values: np.ndarray,
    dark: float,
    even: EvenMap,
    through: Through,
    keep: np.ndarray | None = None,
    veil: Veil = NO_VEIL,
    stains: tuple[Lifted, ...] = (),
    every: int = 1,
) -> np.ndarray:
    """The picture (h, w, 3) of a frame's values; `keep` takes the evened codes of every so manieth row and column.

    veil        scan values r g b of stray light that come off first
    stains      what is taken off those next, place by place
    """
    out = np.empty(values.shape, through.dtype)
    for top, codes in strips(values, dark, even, veil, stains):
        through(codes, out[top : top + len(codes)])
        if keep is not None:
            first = -top % every
            some = codes[first::every, ::every]
            keep[(top + first) // every : (top + first) // every + len(some)] = some
    return out
