"""The net that looks for marks, run in bands: the same multiplications, at half the time where planes are larger than what stays near the processor.

Of its layers the first and the last work at full size and take most of the time. Each is a net of its own here and is shown
a band of rows at a time, with as many rows more as its kernels reach; what lies between sees the whole picture at once.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from importlib.resources import as_file, files

import cv2
import numpy as np

#: Rows of a band; planes that the first part answers with, and the last.
BAND, FINE, ANSWERS = 32, 20, 16
#: The parts: planes to the first layer; that to the last but one, which is half as large; both to the answer.
PARTS = ("first", "middle", "last")
_own = threading.local()


def answered(planes: np.ndarray) -> np.ndarray:
    """The net's answer (16, h, w) to its planes (24, h, w); h and w divisible by 8."""
    _, height, width = planes.shape
    first, middle, last = _nets()
    fine, answer = (np.empty((many, height, width), np.float32) for many in (FINE, ANSWERS))
    for top, end in bands(height):
        first.setInput(rows_of(planes, top - 1, end + 1))
        fine[:, top:end] = first.forward()[0, :, 1:-1]
    middle.setInput(fine[None])
    coarse = middle.forward()[0]
    for top, end in bands(height):
        last.setInput(rows_of(coarse, top // 2 - 1, end // 2 + 1), "coarse")
        last.setInput(rows_of(fine, top - 2, end + 2), "fine")
        answer[:, top:end] = last.forward()[0, :, 2:-2]
    return answer


def rows_of(planes: np.ndarray, first: int, end: int) -> np.ndarray:
    """Rows of planes (c, h, w) as (1, c, end - first, w), with nothing where there are none, as the kernels take it."""
    many, height, width = planes.shape
    shown = np.empty((1, many, end - first, width), np.float32)
    inside = slice(max(0, first), min(height, end))
    shown[:, :, : inside.start - first] = shown[:, :, inside.stop - first :] = 0
    shown[0, :, inside.start - first : inside.stop - first] = planes[:, inside]
    return shown


def bands(height: int) -> Iterator[tuple[int, int]]:
    """First row of each band and the one after its last, all of one height: the last begins early enough to be whole."""
    tall = min(BAND, height)
    for top in range(0, height, tall):
        top = min(top, height - tall)
        yield top, top + tall


def _nets() -> list[cv2.dnn.Net]:
    """The nets of this thread: one answers one caller at a time."""
    if not hasattr(_own, "nets"):
        _own.nets = [read_part(part) for part in PARTS]
    return list(_own.nets)


def read_part(part: str) -> cv2.dnn.Net:
    """One of the net's parts."""
    with as_file(files("wetside.stages.causes.signs") / f"marks-{part}.onnx") as place:
        # The library's newer engine takes a fifth longer for the same answer; only by a file's name is it not chosen.
        return cv2.dnn.readNetFromONNX(str(place), cv2.dnn.ENGINE_CLASSIC)
