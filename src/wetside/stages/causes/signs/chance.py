"""What the net that looks for marks is shown: detail of every layer, and what one layer holds that the others do not.

A mark adds density and leaves the picture under it alone. In a photograph the layers go together: locally each is close
to a straight function of the other two. What is left of each layer after that fit is near nothing in most pictures, and
a mark in one layer stands alone in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.place import Rectangle
from wetside.stages.causes.signs.net import answered

PAD = 32  # half-size pixels; the net halves its map four times after cells of 2 × 2
WIDE = 33  # cells over which the mean density is taken away
NEAR = 13  # cells over which one layer is fitted to the two others
SCALE = 0.1  # [D] of one unit of the net's answer
RIDGE = 0.004**2  # [D²] keeps the fit calm where there is nothing but grain
#: Pairs of layers.
PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


#: A plane for every pair of layers, both ways round.
Shared = dict[tuple[int, int], np.ndarray]


@dataclass(frozen=True)
class Chance:
    """At half size: log-odds that a pixel lies in a mark (h, w); `cells` (12, …) is what the net takes for added, as it says it."""

    odds: np.ndarray
    cells: np.ndarray

    def added(self, box: Rectangle | None = None) -> np.ndarray:
        """The density (h, w, 3) [D] that the net takes for added, in a box or everywhere."""
        height, width = self.odds.shape
        x, y, w, h = box or (0, 0, width, height)
        cut = self.cells[:, y // 2 : (y + h + 1) // 2, x // 2 : (x + w + 1) // 2] * np.float32(SCALE)
        return spread(cut)[y % 2 : y % 2 + h, x % 2 : x % 2 + w]


def chance_of_marks(half: np.ndarray) -> Chance:
    """The net's answer for a picture's density (h, w, 3) float32 [D] at half size; its longer side about 500."""
    height, width = half.shape[:2]
    padded = cv2.copyMakeBorder(half, 0, -height % PAD, 0, -width % PAD, cv2.BORDER_REFLECT)
    answer = answered(net_input(padded))
    odds = spread(answer[:4])[:height, :width, 0]
    return Chance(np.ascontiguousarray(odds), answer[4:])


def spread(cells: np.ndarray) -> np.ndarray:
    """Cells of 2 × 2 pixels (4·c, h, w) as pixels (2h, 2w, c)."""
    planes, height, width = cells.shape
    many = planes // 4
    square = np.empty((height, 2, width, 2, many), np.float32)
    for number in range(4):
        own = cells[number * many : (number + 1) * many]
        square[:, number // 2, :, number % 2] = own.transpose(1, 2, 0)
    return square.reshape(2 * height, 2 * width, many)


def net_input(half: np.ndarray) -> np.ndarray:
    """(24, h/2, w/2) float32 of density (h, w, 3) [D] at half size; h and w even.

    Of every 2 × 2 cell the detail (density less the mean around) and what each layer holds apart from the others.
    What is smooth (means, and how layers go together) is told a cell at a time.
    """
    height, width = half.shape[0] // 2, half.shape[1] // 2
    shown = np.empty((2, 2, 6, height, width), np.float32)
    detail, apart = shown[:, :, :3], shown[:, :, 3:]
    detail[...] = in_cells(half)
    layers_apart(detail, out=apart)
    for layer in range(3):
        detail[:, :, layer] -= box_mean(of_cells(detail[:, :, layer]), WIDE)
    detail *= 4
    apart *= 16
    return np.clip(shown, -6, 6, out=shown).reshape(24, height, width)


def in_cells(half: np.ndarray) -> np.ndarray:
    """(h, w, 3) by cells of 2 × 2 pixels, (2, 2, 3, h/2, w/2)."""
    height, width = half.shape[:2]
    return half.reshape(height // 2, 2, width // 2, 2, 3).transpose(1, 3, 4, 0, 2)


def of_cells(plane: np.ndarray) -> np.ndarray:
    """Mean (h, w) of each cell's four pixels (2, 2, h, w)."""
    found = plane[0, 0] + plane[0, 1]
    found += plane[1, 0]
    found += plane[1, 1]
    found *= np.float32(0.25)
    return found


def box_mean(plane: np.ndarray, side: int) -> np.ndarray:
    """Mean (h, w) over so many cells each way."""
    return cv2.blur(plane, (side, side), borderType=cv2.BORDER_REFLECT)


def layers_apart(layers: np.ndarray, out: np.ndarray | None = None) -> np.ndarray:
    """Of three layers (2, 2, 3, h, w) [D] by cells each less its local straight fit to the two others.

    Least squares over `NEAR` × `NEAR` cells. By cofactors of the covariance: another layer's share in the fit is the
    pair's over the layer's own, less the sign. In neither is the layer's own variance, so only those of the others are steadied.
    """
    mean = [box_mean(of_cells(layers[:, :, i]), NEAR) for i in range(3)]
    spare = np.empty_like(layers[:, :, 0])
    shared = {}
    for i, j in PAIRS:
        shared[i, j] = shared[j, i] = _covariance(layers, mean, i, j, spare)
    cofactor = {(i, j): _cofactor(shared, i, j) for i, j in PAIRS}
    off = layers - np.stack(mean)
    found = np.empty_like(off) if out is None else out
    for own in range(3):
        left = found[:, :, own]
        left[...] = off[:, :, own]
        for other in (i for i in range(3) if i != own):
            share = cofactor[min(own, other), max(own, other)] / cofactor[own, own]
            left += np.multiply(share, off[:, :, other], out=spare)
    return found


def _covariance(
    layers: np.ndarray, mean: Sequence[np.ndarray], i: int, j: int, spare: np.ndarray
) -> np.ndarray:
    """Covariance (h, w) [D²] of two layers, steadied where it is a layer's own; `spare` (2, 2, h, w) is overwritten."""
    found = box_mean(of_cells(np.multiply(layers[:, :, i], layers[:, :, j], out=spare)), NEAR)
    found -= mean[i] * mean[j]
    if i == j:
        found += np.float32(RIDGE)
    return found


def _cofactor(shared: Shared, i: int, j: int) -> np.ndarray:
    """Of the symmetric 3 × 3 matrix `shared` at every place, by rows and columns in turn, so that no sign is left to be put."""
    down, across = ((i + 1) % 3, (i + 2) % 3), ((j + 1) % 3, (j + 2) % 3)
    found = shared[down[0], across[0]] * shared[down[1], across[1]]
    found -= shared[down[0], across[1]] * shared[down[1], across[0]]
    return found
