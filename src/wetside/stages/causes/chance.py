"""What the net that looks for marks is shown: detail of every layer, and what one layer holds that the others do not.

A mark adds density and leaves the picture under it alone. In a photograph the layers go together: locally each is close
to a straight function of the other two. What is left of each layer after that fit is near nothing in most pictures, and
a mark in one layer stands alone in it.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import as_file, files
from io import BytesIO

import cv2
import numpy as np

PAD = 32  # pixels; the net halves its map three times after cells of 4
WIDE = 65  # half-size pixels over which the mean density is taken away
NEAR = 25  # half-size pixels over which one layer is fitted to the two others
SCALE = 0.1  # [D] of one unit of the net's answer
RIDGE = 0.004**2  # [D²] keeps the fit calm where there is nothing but grain
_own = threading.local()


def net_input(half: np.ndarray) -> np.ndarray:
    """(24, h/2, w/2) float32 of density (h, w, 3) [D] at half size; h and w even.

    Of every 2 × 2 cell the detail (density less the mean around) and what each layer holds apart from the others.
    """
    height, width = half.shape[:2]
    shown = np.empty((2, 2, 6, height // 2, width // 2), np.float32)
    layers = [np.ascontiguousarray(half[..., i]) for i in range(3)]
    apart = layers_apart(layers)
    for i, layer in enumerate(layers):
        detail = layer - cv2.blur(layer, (WIDE, WIDE), borderType=cv2.BORDER_REFLECT)
        for number, plane, scale in ((i, detail, 4), (3 + i, apart[i], 16)):
            plane *= scale
            np.clip(plane, -6, 6, out=plane)
            shown[:, :, number] = plane.reshape(height // 2, 2, width // 2, 2).transpose(1, 3, 0, 2)
    return shown.reshape(24, height // 2, width // 2)


def layers_apart(layers: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Each of three layers (h, w) [D] less its local straight fit to the two others (least squares over `NEAR` × `NEAR`)."""
    mean = [_blur(layer) for layer in layers]
    off = [layer - own for layer, own in zip(layers, mean)]
    together = {
        (i, j): _blur(layers[i] * layers[j]) - mean[i] * mean[j] for i in range(3) for j in range(i, 3)
    }
    steady = [together[i, i] + RIDGE for i in range(3)]
    found = []
    for own in range(3):
        one, two = (i for i in range(3) if i != own)
        aa, bb, ab = steady[one], steady[two], together[one, two]
        ya, yb = together[min(own, one), max(own, one)], together[min(own, two), max(own, two)]
        size = aa * bb - ab * ab
        first, second = (ya * bb - yb * ab) / size, (yb * aa - ya * ab) / size
        found.append(off[own] - first * off[one] - second * off[two])
    return found


def _blur(plane: np.ndarray) -> np.ndarray:
    return cv2.blur(plane, (NEAR, NEAR), borderType=cv2.BORDER_REFLECT)


@dataclass(frozen=True)
class Chance:
    """At half size: log-odds that a pixel lies in a mark (h, w), and the density that the net takes for added (h, w, 3) [D]."""

    odds: np.ndarray
    added: np.ndarray


def chance_of_marks(density: np.ndarray) -> Chance:
    """The net's answer for a picture's density (h, w, 3) float32 [D]; its grain may be any, its longer side about 1000."""
    height, width = density.shape[:2]
    below, beside = -height % PAD, -width % PAD
    padded = cv2.copyMakeBorder(density, 0, below, 0, beside, cv2.BORDER_REFLECT)
    half = cv2.resize(padded, (padded.shape[1] // 2, padded.shape[0] // 2), interpolation=cv2.INTER_AREA)
    net = _net()
    net.setInput(net_input(half)[None])
    answer = net.forward()[0]
    cells = answer.reshape(16, *answer.shape[1:]).transpose(1, 2, 0)
    odds = _spread(cells[..., :4])[..., 0]
    added = _spread(cells[..., 4:]) * SCALE
    tall, wide = (height + 1) // 2, (width + 1) // 2
    return Chance(np.ascontiguousarray(odds[:tall, :wide]), np.ascontiguousarray(added[:tall, :wide]))


def _spread(cells: np.ndarray) -> np.ndarray:
    """(h, w, 4·c) to (2h, 2w, c)."""
    height, width, planes = cells.shape
    square = cells.reshape(height, width, 2, 2, planes // 4)
    return square.transpose(0, 2, 1, 3, 4).reshape(2 * height, 2 * width, planes // 4)


def _net() -> cv2.dnn.Net:
    """The net of this thread: one net answers one caller at a time."""
    if not hasattr(_own, "net"):
        with as_file(files("wetside.stages.causes") / "marks.onnx") as place:
            # The library's newer engine takes a fifth longer for the same answer; only by a file's name is it not chosen.
            _own.net = cv2.dnn.readNetFromONNX(str(place), cv2.dnn.ENGINE_CLASSIC)
    return _own.net


def worth(evidence: np.ndarray) -> np.ndarray:
    """What candidates' evidence (n, k) is worth: the chance, 0 to 1, that each is a mark."""
    judge = _judge()
    return 1 / (1 + np.exp(-(evidence @ judge["weights"] + judge["constant"])))


@cache
def _judge() -> dict[str, np.ndarray]:
    with np.load(BytesIO((files("wetside.stages.causes") / "marks.npz").read_bytes())) as kept:
        return dict(kept)
