"""A roll's transform as a table a layer and a cube of colours, where it is no more than that.

The own and the fitted door to a display are: all that works on one layer alone is one table from a 16-bit code to a place on
the cube's edge, and between eight corners of the cube the colour is found in the tetrahedron that the place lies in, as the
library finds it. Written out for the machine at hand this takes half the library's time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import PyOpenColorIO as ocio

from wetside.stages.positive.transform import CODES, processor_of

FULL = 65535.0
#: Rows of the cube begin where the processor's own do, so that a corner is one load.
ALIGNED = 64


@dataclass(frozen=True)
class Lattice:
    """places (3, 65536) float32: where on the cube's edge, 0 … edge − 1, a layer's code lies; corners (edge³, 4) float32: colours
    r g b of a display in 16-bit codes, red slowest, and nothing."""

    places: np.ndarray
    corners: np.ndarray
    edge: int


def lattice_of(group: ocio.GroupTransform) -> Lattice | None:
    """A group as a lattice; None where it mixes layers before its cube, has none, or leaves the display's range."""
    steps = list(group)
    cube = steps[-1] if steps else None
    if not isinstance(cube, ocio.Lut3DTransform) or not all(_one_layer_alone(step) for step in steps[:-1]):
        return None
    colours = np.asarray(cube.getData(), np.float32).reshape(-1, 3)
    plain = (
        cube.getDirection() == ocio.TRANSFORM_DIR_FORWARD
        and cube.getInterpolation() == ocio.INTERP_TETRAHEDRAL
    )
    if not plain or colours.min() < 0 or colours.max() > 1:
        return None
    edge = cube.getGridSize()
    return Lattice(_places(steps[:-1], edge), _corners(colours), edge)


def _one_layer_alone(step: ocio.Transform) -> bool:
    if isinstance(step, ocio.MatrixTransform):
        matrix = np.array(step.getMatrix()).reshape(4, 4)
        return bool((matrix == np.diag(np.diag(matrix))).all())
    return isinstance(step, ocio.Lut1DTransform | ocio.RangeTransform)


def _places(steps: list[ocio.Transform], edge: int) -> np.ndarray:
    """What the library makes of every code, layer by layer, along the cube's edge; the last place lies within the last cell."""
    before = ocio.GroupTransform()
    for step in steps:
        before.appendTransform(step)
    ramp = np.repeat((np.arange(CODES) / FULL).astype(np.float32)[:, None], 3, axis=1)
    processor_of(before).applyRGB(ramp)
    last = np.float32(edge - 1)
    along = np.clip(ramp.T * last, 0, np.nextafter(last, np.float32(0)))
    return np.ascontiguousarray(along, np.float32)


def _corners(colours: np.ndarray) -> np.ndarray:
    room = np.zeros(colours.shape[0] * 4 + ALIGNED, np.float32)
    first = -room.ctypes.data % ALIGNED // room.itemsize
    found = room[first : first + colours.shape[0] * 4].reshape(-1, 4)
    found[:, :3] = colours * np.float32(FULL)
    return found
