"""Rows of a plain file, read as they are asked for: a frame of 24 megapixels then needs some hundred kilobytes, not 144 MB.

The file is read, not mapped: a file that shrinks under a map ends the program, here it is one line.
"""

from __future__ import annotations

import os
import weakref
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np

from wetside.figures.finding import Unusable
from wetside.figures.scan import Scan
from wetside.store.scans.claims import exposure_of
from wetside.store.scans.header import header
from wetside.store.scans.kinds import kind_of
from wetside.store.scans.quiet import quiet
from wetside.store.scans.stamps import sha256
from wetside.store.scans.tags import tags_of

if TYPE_CHECKING:
    from tifffile import TiffPage


class RowsOnDisk:
    """Pixels (h, w, 3) uint16 of an open file, taken by slices of rows; each is good until the next is taken."""

    dtype = np.dtype(np.uint16)

    def __init__(self, path: Path, at: int, height: int, width: int) -> None:
        self.shape = (height, width, 3)
        self._name, self._at = path.name, at
        self._file = os.open(path, os.O_RDONLY)
        weakref.finalize(self, os.close, self._file)
        self._room = np.empty((0, width, 3), np.uint16)

    def __getitem__(self, rows: slice) -> np.ndarray:
        """The rows of a slice without steps; Unusable when the file ends before them."""
        first, end, _ = rows.indices(self.shape[0])
        if len(self._room) < end - first:
            self._room = np.empty((end - first, *self.shape[1:]), np.uint16)
        found = self._room[: max(0, end - first)]
        self._fill(memoryview(found.reshape(-1)).cast("B"), self._at + first * found.strides[0])
        return found

    def _fill(self, room: memoryview, at: int) -> None:
        while len(room):
            try:
                got = os.preadv(self._file, [room], at)
            except OSError as slip:
                raise Unusable(f"could not be read: {slip.strerror}", self._name) from None
            if not got:
                raise Unusable("cut off while it was read", self._name)
            room, at = room[got:], at + got


def scan_in_rows(path: Path, hashed: bool) -> Scan | None:
    """A scan whose pixels are `RowsOnDisk`, for a 16-bit RGB TIFF that lies uncompressed, whole and as it is shown; None for any other
    file, which `load` reads and judges.

    A file whose last row holds one value may have been broken off, which is not to be told from that row alone: None too.
    """
    import tifffile

    try:
        with quiet():
            if kind_of(path) != "tiff" or header(path).bits != 16:
                return None
            with tifffile.TiffFile(path) as tiff:
                page = cast("TiffPage", tiff.pages[0])
                rows, exposure = _rows_of(path, page), exposure_of(tags_of(page))
        if rows is None or _of_one_value(rows[-1:]):
            return None
    except Exception:  # whatever it is, `load` says it in words
        return None
    scan = Scan(path.name, cast(np.ndarray, rows), 65535.0, 16, "linear", exposure_s=exposure)
    return replace(scan, sha256=sha256(path)) if hashed else scan


def _of_one_value(rows: np.ndarray) -> bool:
    return bool((rows == rows[0, 0]).all())


def _rows_of(path: Path, page: TiffPage) -> RowsOnDisk | None:
    plain = (
        page.is_final and page.dtype == np.uint16 and page.parent.byteorder == "<" and page.photometric == 2
        and page.samplesperpixel == 3 and page.planarconfig == 1 and page.tags.valueof(274) in (None, 1)
        and page.tags.valueof(34675) is None
    )  # fmt: skip
    if not plain or page.shape != (page.imagelength, page.imagewidth, 3):
        return None
    at, size = int(page.dataoffsets[0]), 6 * page.imagelength * page.imagewidth
    return RowsOnDisk(path, at, *page.shape[:2]) if path.stat().st_size >= at + size else None
