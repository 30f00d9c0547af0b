"""A frame evened in 16-bit codes, a strip at a time: dark level and stray light off, times the factor of its place, rounded.

The evened code is what the evened negative holds and what the picture is made from, so both agree to the code.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import cv2
import numpy as np

from wetside.laws.image.evenness import stain_factor

#: A small map is first grown to this many rows in the logarithm, so that straight lines between rows suffice.
ROWS = 512
#: A map that many frames share is kept at every row of theirs where that takes no more bytes than this: in 16 bits where its
#: factors lie within this ratio, so that its steps are finer than the codes, else in single precision.
ROOM, RATIO = 600_000_000, 4.0
STEP = 64
LEAST = 1e-6
#: A veil of fewer scan values is taken off in parts of them.
LEAST_VEIL = 32.0
FULL = 65535.0
Veil = tuple[float, float, float]
NO_VEIL: Veil = (0.0, 0.0, 0.0)
#: A veil's own rows are as many as this, or the frame's.
VEIL_ROWS = 256


class Grown(NamedTuple):
    """A map at a frame's width: `rows` float32 (n + 2, w, 3), 512 or more and one carried on at either rim, to go between; or
    `every` row of the frame (h, w, 3), in uint16 or float32, times `unit`."""

    rows: np.ndarray
    unit: float = 1.0
    every: bool = False


class EvenMap:
    """The factor from scan values less their dark level to transmittance, (height, width, 3), given in strips.

    small       (h, w, 3) factor of the light at any size, or None for an even one
    across      (height, 3) factor a row of the additive cast, or None
    gain        what both are multiplied with: exposure ratio over full scale, and the like
    grown       what `shared_map` made of `small`, where the caller keeps it for frames of one size
    """

    def __init__(
        self,
        small: np.ndarray | None,
        across: np.ndarray | None,
        gain: float,
        height: int,
        width: int,
        grown: Grown | None = None,
    ) -> None:
        self.height, self.width, self.gain = height, width, gain
        self.across = None if across is None else across.astype(np.float32)
        self.grown = grown if small is None or grown is not None else Grown(grown_map(small, height, width))
        self._room = np.empty((0, width, 3), np.float32)

    @property
    def plain(self) -> bool:
        """True when nothing varies over the frame."""
        return self.grown is None and self.across is None

    def strip(self, top: int, rows: int) -> np.ndarray:
        """Factors (rows, width, 3) float32 from row `top` on, to 16-bit codes; good until the next call."""
        factors, scale = self.scaled(top, rows)
        if factors is None:
            return np.full((rows, self.width, 3), scale, np.float32)
        return factors if scale == 1.0 else factors * np.float32(scale)

    def scaled(self, top: int, rows: int) -> tuple[np.ndarray | None, float]:
        """The same as factors, float32 or uint16, and one number they are to be multiplied with, so that a map of every row is
        not copied; no factors where nothing varies."""
        if self.plain:
            return None, self.gain * FULL
        if self.grown is not None and self.grown.every:
            out, scale = self.grown.rows[top : top + rows], self.gain * FULL * self.grown.unit
            return (out, scale) if self.across is None else (self._times_across(out, top), scale)
        if len(self._room) < rows:
            self._room = np.full((rows, self.width, 3), self.gain * FULL, np.float32)
        out = self._room[:rows]
        if self.grown is not None:
            self._between(out, top)
        elif self.across is not None:
            out[...] = self.gain * FULL
        return (out if self.across is None else self._times_across(out, top)), 1.0

    def _times_across(self, factors: np.ndarray, top: int) -> np.ndarray:
        assert self.across is not None
        if len(self._room) < len(factors):
            self._room = np.empty((len(factors), self.width, 3), np.float32)
        out = self._room[: len(factors)]
        np.multiply(factors, self.across[top : top + len(factors), None, :], out=out)
        return out

    def _between(self, out: np.ndarray, top: int) -> None:
        assert self.grown is not None
        rows, scale = self.grown.rows, self.gain * FULL
        many = len(rows) - 2
        for i in range(len(out)):
            at = (top + i + 0.5) * many / self.height + 0.5
            row = min(int(at), many)
            part = at - row
            cv2.addWeighted(rows[row], (1 - part) * scale, rows[row + 1], part * scale, 0.0, dst=out[i])


def shared_map(small: np.ndarray, height: int, width: int) -> Grown:
    """A map for many frames of one size: at every row of theirs, where there is room for it."""
    grown = Grown(grown_map(small, height, width))
    steep = float(small.max()) > RATIO * float(small.min())
    kept = np.dtype(np.float32 if steep else np.uint16)
    if 3 * kept.itemsize * height * width > ROOM:
        return grown
    every = np.empty((height, width, 3), kept)
    unit = 1.0 if steep else float(grown.rows.max()) / FULL
    between = EvenMap(None, None, 1 / (unit * FULL), height, width, grown)
    for top in range(0, height, STEP):
        strip = between.strip(top, min(STEP, height - top))
        every[top : top + len(strip)] = strip if steep else np.rint(strip, out=strip)
    return Grown(every, unit, every=True)


def grown_map(small: np.ndarray, height: int, width: int) -> np.ndarray:
    """A map at full width and 512 rows or more, plus one carried on at either rim, interpolated in the logarithm."""
    rows = max(small.shape[0], min(ROWS, height))
    logs = _rimmed(np.log(np.maximum(small.astype(np.float32), LEAST)))
    across = _along(logs, width, small.shape[1], 1)
    if rows != small.shape[0]:
        across = _rimmed(_along(across, rows, small.shape[0], 0), columns=False)
    return np.exp(across, dtype=np.float32)


def _rimmed(logs: np.ndarray, columns: bool = True) -> np.ndarray:
    """One more row (and column) at every rim, carried on straight."""

    def ends(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        if len(values) < 2:
            return values[:1], values[-1:]
        return 2 * values[:1] - values[1:2], 2 * values[-1:] - values[-2:-1]

    low, high = ends(logs)
    out = np.concatenate([low, logs, high])
    if not columns:
        return out
    low, high = ends(out.swapaxes(0, 1))
    return np.concatenate([low.swapaxes(0, 1), out, high.swapaxes(0, 1)], axis=1)


def _along(padded: np.ndarray, wanted: int, have: int, axis: int) -> np.ndarray:
    """Linear interpolation along an axis that holds one more sample at either rim; pixel centres agree."""
    at = (np.arange(wanted) + 0.5) * have / wanted + 0.5
    low = np.minimum(at.astype(int), have)
    part = (at - low).astype(np.float32)
    shape = (-1, 1) if axis == 1 else (-1, 1, 1)
    part = part.reshape(shape)
    first, second = np.take(padded, low, axis=axis), np.take(padded, low + 1, axis=axis)
    return (first + (second - first) * part).astype(np.float32)


def across_rows(
    profile: tuple[np.ndarray, np.ndarray], top: int, picture: int, height: int, shrink: float
) -> np.ndarray:
    """Factors (height, 3) that take an additive cast out; `top` and `picture` are its rectangle's rows in the file."""
    rows = (np.arange(height) * shrink + 0.5 - top) / max(1, picture)
    return stain_factor(*profile, rows)[:, 0, :]


class VeilOver:
    """Scan values of stray light where it lies over a frame (height, width), given in strips.

    mean    scan values r g b of its mean over the film
    over    (rows, columns, 3) cells of the frame: its share of the mean there
    whole   in whole numbers, where that changes it by 1 in 64 at the most
    """

    def __init__(self, mean: Veil, over: np.ndarray, height: int, width: int, whole: bool) -> None:
        self.height = height
        self._cells = cv2.resize(over.astype(np.float32), (width, len(over))) * np.array(mean, np.float32)
        whole = whole and float(self._cells.min()) >= LEAST_VEIL
        self._room = np.empty((0, width, 3), np.uint16 if whole else np.float32)

    def strip(self, top: int, rows: int) -> np.ndarray:
        """(rows, width, 3) uint16 or float32 from row `top` on; good until the next call."""
        if len(self._room) < rows:
            self._room = np.empty((rows, *self._room.shape[1:]), self._room.dtype)
        block = max(1, self.height // VEIL_ROWS)
        for first in range(0, rows, block):
            end = min(rows, first + block)
            row = self._row((top + (first + end) / 2) / self.height)
            whole = self._room.dtype == np.uint16
            self._room[first:end] = np.rint(row).astype(np.uint16) if whole else row
        return self._room[:rows]

    def _row(self, y: float) -> np.ndarray:
        """(width, 3) at a share y of the frame's height, between the cells' middles."""
        many = len(self._cells)
        at = min(max(y * many - 0.5, 0.0), many - 1.0)
        low = min(int(at), max(0, many - 2))
        part = at - low
        return cv2.addWeighted(self._cells[low], 1 - part, self._cells[min(low + 1, many - 1)], part, 0.0)


def evened_strip(
    values: np.ndarray,
    dark: float,
    factors: np.ndarray | None,
    into: np.ndarray | None = None,
    veil: Veil | np.ndarray = NO_VEIL,
    scale: float = 1.0,
) -> np.ndarray:
    """16-bit codes of transmittance (rows, w, 3) from scan values, into an array of that shape where one is given.

    factors     (rows, w, 3), or None where the scale is all
    veil        scan values of stray light to take off, r g b or (rows, w, 3) uint16 or float32; what would fall under 0 is 0
    scale       what the factors are multiplied with
    """
    if factors is not None:
        return cv2.multiply(_without(values, dark, veil), factors, dst=into, scale=scale, dtype=cv2.CV_16U)
    # the library adds two pictures three times as fast as it multiplies one with a number
    if _in_whole_numbers(values, dark, veil):
        off = _veil_rows(veil, values.shape)
        return cv2.addWeighted(values, scale, off, -scale, 0.0, dst=into, dtype=cv2.CV_16U)
    values = _without(values, dark, veil)
    return cv2.addWeighted(values, scale, values, 0.0, 0.0, dst=into, dtype=cv2.CV_16U)


def _in_whole_numbers(values: np.ndarray, dark: float, veil: Veil | np.ndarray) -> bool:
    """Whether a veil is one in whole numbers, or may be rounded: that changes it by 1 in 64 at the most."""
    fine = veil.dtype == np.uint16 if isinstance(veil, np.ndarray) else min(veil) >= LEAST_VEIL
    return bool(fine) and values.dtype == np.uint16 and not dark


def _without(values: np.ndarray, dark: float, veil: Veil | np.ndarray) -> np.ndarray:
    """Scan values without their dark level and a veil."""
    if not dark and not isinstance(veil, np.ndarray) and not any(veil):
        return np.ascontiguousarray(values)
    if _in_whole_numbers(values, dark, veil):
        return cv2.subtract(np.ascontiguousarray(values), _veil_rows(veil, values.shape))
    return values.astype(np.float32) - (np.float32(dark) + np.asarray(veil, np.float32))


def _veil_rows(veil: Veil | np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    return veil if isinstance(veil, np.ndarray) else _alike(veil, *shape[:2])


@lru_cache(maxsize=8)
def _alike(veil: Veil, rows: int, width: int) -> np.ndarray:
    """A veil at every place of a strip: the library takes an array off four times as fast as a colour."""
    return np.full((rows, width, 3), np.rint(veil), np.uint16)
