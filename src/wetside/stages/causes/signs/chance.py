"""What the net that looks for marks is shown: detail of every layer, and what one layer holds that the others do not.

A mark adds density and leaves the picture under it alone. In a photograph the layers go together: locally each is close
to a straight function of the other two. What is left of each layer after that fit is near nothing in most pictures, and
a mark in one layer stands alone in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO

import cv2
import numpy as np

from wetside.figures.place import Rectangle
from wetside.stages.causes.signs.net import answered

PAD = 16  # half-size pixels; the net halves its map three times after cells of 2 × 2
WIDE = 65  # half-size pixels over which the mean density is taken away
NEAR = 25  # half-size pixels over which one layer is fitted to the two others
SCALE = 0.1  # [D] of one unit of the net's answer
RIDGE = 0.004**2  # [D²] keeps the fit calm where there is nothing but grain
STRIP = 32  # rows worked on at once: what is in hand then stays near the processor
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
    square = np.empty((height, 2, width, 2, planes // 4), np.float32)
    for number, own in enumerate(np.split(cells, 4)):
        square[:, number // 2, :, number % 2] = own.transpose(1, 2, 0)
    return square.reshape(2 * height, 2 * width, planes // 4)


def net_input(half: np.ndarray) -> np.ndarray:
    """(24, h/2, w/2) float32 of density (h, w, 3) [D] at half size; h and w even.

    Of every 2 × 2 cell the detail (density less the mean around) and what each layer holds apart from the others.
    """
    height, width = half.shape[:2]
    shown = np.empty((2, 2, 6, height // 2, width // 2), np.float32)
    layers = cv2.split(half)
    apart = layers_apart(layers)
    for i, layer in enumerate(layers):
        detail = cv2.blur(layer, (WIDE, WIDE), borderType=cv2.BORDER_REFLECT)
        np.subtract(layer, detail, out=detail)
        for number, plane, scale in ((i, detail, 4), (3 + i, apart[i], 16)):
            plane *= scale
            np.clip(plane, -6, 6, out=plane)
            shown[:, :, number] = plane.reshape(height // 2, 2, width // 2, 2).transpose(1, 3, 0, 2)
    return shown.reshape(24, height // 2, width // 2)


def layers_apart(layers: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Each of three layers (h, w) [D] less its local straight fit to the two others (least squares over `NEAR` × `NEAR`)."""
    mean = [_blur(layer) for layer in layers]
    together = {(i, j): _blur(layers[i] * layers[j]) for i, j in PAIRS}
    found = [np.empty_like(layer) for layer in layers]
    for first in range(0, len(layers[0]), STRIP):
        rows = slice(first, first + STRIP)
        middle = [one[rows] for one in mean]
        off = [layer[rows] - own for layer, own in zip(layers, middle)]
        _left_of_fits(
            off,
            _covariance({pair: one[rows] for pair, one in together.items()}, middle),
            [f[rows] for f in found],
        )
    return found


def _covariance(products: dict[tuple[int, int], np.ndarray], mean: Sequence[np.ndarray]) -> Shared:
    """Covariance of every pair of layers from the mean of their products (overwritten), steadied where it is a layer's own."""
    spare = np.empty_like(mean[0])
    found = {}
    for (i, j), product in products.items():
        product -= np.multiply(mean[i], mean[j], out=spare)
        if i == j:
            product += np.float32(RIDGE)
        found[i, j] = found[j, i] = product
    return found


def _left_of_fits(off: Sequence[np.ndarray], shared: Shared, found: Sequence[np.ndarray]) -> None:
    """What of each layer's departure from its mean its fit to the two others leaves, written to `found`.

    By cofactors of the covariance: another layer's share in the fit is the pair's over the layer's own, less the sign.
    In neither is the layer's own variance, so only those of the others are steadied.
    """
    spare = np.empty_like(off[0])
    cofactor = {(i, j): _cofactor(shared, i, j, spare) for i, j in PAIRS}
    for own, left in enumerate(found):
        one, two = (i for i in range(3) if i != own)
        np.multiply(cofactor[min(own, one), max(own, one)], off[one], out=left)
        left += np.multiply(cofactor[min(own, two), max(own, two)], off[two], out=spare)
        left /= cofactor[own, own]
        left += off[own]


def _cofactor(shared: Shared, i: int, j: int, spare: np.ndarray) -> np.ndarray:
    """Of the symmetric 3 × 3 matrix `shared` at every place, by rows and columns in turn, so that no sign is left to be put."""
    down, across = ((i + 1) % 3, (i + 2) % 3), ((j + 1) % 3, (j + 2) % 3)
    found = shared[down[0], across[0]] * shared[down[1], across[1]]
    found -= np.multiply(shared[down[0], across[1]], shared[down[1], across[0]], out=spare)
    return found


def _blur(plane: np.ndarray) -> np.ndarray:
    return cv2.blur(plane, (NEAR, NEAR), borderType=cv2.BORDER_REFLECT)


def worth(evidence: np.ndarray) -> np.ndarray:
    """What candidates' evidence (n, k) is worth: the chance, 0 to 1, that each is a mark."""
    judge = _judge()
    return 1 / (1 + np.exp(-(evidence @ judge["weights"] + judge["constant"])))


@cache
def _judge() -> dict[str, np.ndarray]:
    with np.load(BytesIO((files("wetside.stages.causes.signs") / "marks.npz").read_bytes())) as kept:
        return dict(kept)
