"""A picture written as its rows come, from top to bottom, under a name beside its place until it is whole."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from wetside.store.scans.sinks import WRITERS, slip_of, tiff_begun, written_whole
from wetside.store.scans.told import Told

if TYPE_CHECKING:
    from io import FileIO

#: Takes the next rows (n, w, 3) of a picture.
Lay = Callable[[np.ndarray], None]


@contextlib.contextmanager
def laid_in_rows(
    path: Path, kind: str, space: str, told: Told, shape: tuple[int, int, int], dtype: type
) -> Iterator[Lay]:
    """What takes the rows of a picture (h, w, 3). The same file as by `write_picture`; a TIFF's rows go to the disk at once,
    those of other kinds are held until all are there."""
    with written_whole(path) as beside:
        if kind == "tiff" and dtype is np.uint16:
            at = tiff_begun(beside, shape, space, told)
            with beside.open("r+b", buffering=0) as stream:
                stream.seek(at)
                yield lambda rows: _put(stream, rows, path)
        else:
            held = _Held(shape, dtype)
            yield held.lay
            WRITERS[kind](beside, held.pixels, space, told)


def _put(stream: FileIO, rows: np.ndarray, path: Path) -> None:
    left = memoryview(np.ascontiguousarray(rows).reshape(-1)).cast("B")
    try:
        while len(left):
            left = left[stream.write(left) :]
    except OSError as slip:
        raise slip_of(slip, path) from None


class _Held:
    def __init__(self, shape: tuple[int, int, int], dtype: type) -> None:
        self.pixels: np.ndarray = np.empty(shape, dtype)
        self._at = 0

    def lay(self, rows: np.ndarray) -> None:
        self.pixels[self._at : self._at + len(rows)] = rows
        self._at += len(rows)
