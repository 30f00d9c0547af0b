"""The pixel path: scan values in, evened 16-bit codes, picture out, a strip at a time.

Because the evened codes are whole numbers of 16 bits, the library holds all of the transform that works on one channel
alone as one table of 65,536 entries: exact at every code, and many times quicker than computing it for every pixel. Where the
`quick` extra is installed a long roll's tables are gone through by code written for the machine, twice as quick as that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Literal

import numpy as np
import PyOpenColorIO as ocio

from wetside.stages.positive.evening import NO_VEIL, EvenMap, Veil, VeilOver, evened_strip
from wetside.stages.positive.lattice import lattice_of
from wetside.stages.positive.lattice_code import LatticePass
from wetside.stages.positive.softening import Lifted, lift_strip

#: Pixels at a time: what is read of them, evened and printed stays near the processor from the file to the file.
STRIP = 49_152
Depth = Literal["u8", "u16", "f32"]
_DEPTHS = {
    "u8": (ocio.BIT_DEPTH_UINT8, np.uint8),
    "u16": (ocio.BIT_DEPTH_UINT16, np.uint16),
    "f32": (ocio.BIT_DEPTH_F32, np.float32),
}


class Through:
    """A transform group as a function from evened 16-bit codes to pixels of a depth.

    written     by code written for this machine (ImportError without the extra), where the group is a lattice and the depth u16
    """

    def __init__(self, group: ocio.GroupTransform, depth: Depth, written: bool = False) -> None:
        self.bits, self.dtype = _DEPTHS[depth]
        lattice = lattice_of(group) if written and depth == "u16" else None
        self.quick = None if lattice is None else LatticePass(lattice)
        processor = ocio.Config.CreateRaw().getProcessor(group)
        self.cpu = processor.getOptimizedCPUProcessor(
            ocio.BIT_DEPTH_UINT16, self.bits, ocio.OPTIMIZATION_VERY_GOOD
        )

    def __call__(self, codes: np.ndarray, out: np.ndarray) -> None:
        """Pixels of `codes` (rows, w, 3) uint16 into `out`, both contiguous."""
        if self.quick is not None:
            self.quick(codes, out)
            return
        rows, width = codes.shape[:2]
        self.cpu.apply(
            ocio.PackedImageDesc(codes, width, rows, 3, ocio.BIT_DEPTH_UINT16, 2, 6, 6 * width),
            ocio.PackedImageDesc(
                out, width, rows, 3, self.bits, out.itemsize, 3 * out.itemsize, 3 * out.itemsize * width
            ),
        )


def strips(
    values: np.ndarray,
    dark: float,
    even: EvenMap,
    veil: Veil = NO_VEIL,
    stains: tuple[Lifted, ...] = (),
    over: np.ndarray | None = None,
) -> Iterator[tuple[int, np.ndarray]]:
    """First row and evened codes (rows, w, 3) uint16 of a frame's values (h, w, 3), from top to bottom; each good until
    the next is asked for. Values are taken by slices of rows alone. `over` (rows, columns, 3): where the veil lies, in
    cells of the frame, as shares of it; None: everywhere alike."""
    as_is = (
        even.plain and not dark and values.dtype == np.uint16 and even.gain * 65535.0 == 1.0
        and not any(veil) and not stains
    )  # fmt: skip
    rows = max(1, STRIP // values.shape[1])
    lies = None
    if over is not None and any(veil):
        lies = VeilOver(veil, over, even.height, even.width, values.dtype == np.uint16 and not dark)
    room = np.empty((0 if as_is else rows, *values.shape[1:]), np.uint16)
    for top in range(0, values.shape[0], rows):
        part = values[top : top + rows]
        if as_is:
            yield top, np.ascontiguousarray(part)
        else:
            factors, scale = even.scaled(top, len(part))
            off = veil if lies is None else lies.strip(top, len(part))
            codes = evened_strip(part, dark, factors, room[: len(part)], off, scale)
            lift_strip(codes, top, stains)
            yield top, codes


def developed(
    codes: Iterable[tuple[int, np.ndarray]], through: Through
) -> Iterator[tuple[int, np.ndarray, np.ndarray]]:
    """First row, evened codes and picture (rows, w, 3) of every strip; each good until the next is asked for."""
    room = np.empty((0, 0, 3), through.dtype)
    for top, strip in codes:
        if room.shape[1] != strip.shape[1] or len(room) < len(strip):
            room = np.empty(strip.shape, through.dtype)
        through(strip, room[: len(strip)])
        yield top, strip, room[: len(strip)]
