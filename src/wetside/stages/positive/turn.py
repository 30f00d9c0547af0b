"""A picture that lies askew in its scan, set straight: its evened codes resampled once, about the middle of its cut.

It is done before the transform, so that the evened negative and the picture stay one and the same to the code, and in density,
where a step from light to dark is as high as one from dark to light: in transmittance the rims of a dense place would ring.
By Lanczos interpolation over 8 × 8 pixels, which keeps nine tenths of the grain between pixels; nothing is made sharper on purpose.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from statistics import median

import cv2
import numpy as np

#: Rows and columns at a time.
ROWS, COLUMNS = 128, 2048
#: Pixels beyond its own that the interpolation looks at.
REACH = 5


def turns_of(skews: Mapping[str, float], files: Iterable[str], as_one: bool) -> dict[str, float]:
    """Degrees, clockwise, by which pictures lie askew, by file; `as_one`: the middle one of a moving roll for all its frames, which
    would tremble if each went by its own."""
    files = list(files)
    if not as_one:
        return {file: skews[file] for file in files if skews.get(file)}
    shared = median(skews.get(file, 0.0) for file in files) if files else 0.0
    return dict.fromkeys(files, shared) if shared else {}


def straightened(
    codes: np.ndarray, rows: slice, columns: slice, degrees: float
) -> Iterator[tuple[int, np.ndarray]]:
    """First row and codes (n, w, 3) uint16 of a cut's strips, turned back by `degrees` about the cut's middle.

    codes       (h, w, 3) uint16 of the whole evened frame; what would lie beyond it is its rim
    """
    height, width = rows.stop - rows.start, columns.stop - columns.start
    to = _from_cut(rows, columns, degrees)
    for top in range(0, height, ROWS):
        strip = np.empty((min(ROWS, height - top), width, 3), np.uint16)
        for left in range(0, width, COLUMNS):
            tile = strip[:, left : left + COLUMNS]
            tile[...] = _tile(codes, to, top, left, tile.shape[0], tile.shape[1])
        yield top, strip


def set_straight(codes: np.ndarray, rows: slice, columns: slice, degrees: float) -> np.ndarray:
    """The same as one array; the cut itself where it lies straight."""
    if not degrees:
        return codes[rows, columns]
    return np.concatenate([strip for _, strip in straightened(codes, rows, columns, degrees)])


def _from_cut(rows: slice, columns: slice, degrees: float) -> np.ndarray:
    """The places (x, y) in the frame of a cut's pixels (column, row, 1), as a matrix (2, 3) in whole pixels from the first."""
    cosine, sine = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[cosine, -sine], [sine, cosine]])
    middle = np.array([columns.start + columns.stop, rows.start + rows.stop]) / 2 - 0.5
    half = np.array([columns.stop - columns.start - 1, rows.stop - rows.start - 1]) / 2
    return np.column_stack([turn, middle - turn @ half])


def _tile(codes: np.ndarray, to: np.ndarray, top: int, left: int, height: int, width: int) -> np.ndarray:
    ends = np.array([(u, v, 1) for u in (left, left + width - 1) for v in (top, top + height - 1)])
    places = ends @ to.T
    low = np.maximum(np.floor(places.min(axis=0)).astype(int) - REACH, 0)
    high = np.minimum(np.ceil(places.max(axis=0)).astype(int) + REACH + 1, codes.shape[1::-1])
    own = to.copy()
    own[:, 2] = to @ (left, top, 1) - low
    density = _densities()[codes[low[1] : high[1], low[0] : high[0]]]
    turned = cv2.warpAffine(
        density, own, (width, height), flags=cv2.INTER_LANCZOS4 | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )  # fmt: skip
    light = np.exp(turned, out=turned)
    np.clip(light, 0, 65535, out=light)
    return np.rint(light, out=light).astype(np.uint16)


@cache
def _densities() -> np.ndarray:
    """Natural logarithm (65536,) float32 of every code, which is its density but for sign and unit."""
    found: np.ndarray = np.log(np.maximum(np.arange(65536), 1)).astype(np.float32)
    return found
