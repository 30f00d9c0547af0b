"""How the light falls off over a scan that came without an open gate: read from the rebate round the pictures.

Unexposed film has one density, so what varies over it is the light, or an additive stain; either way a density
above base counts from the base beside it. Answers None when the rebate lies too much on one side to tell.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.finding import Finding
from wetside.stages.negative.found.base import flat, near_base
from wetside.stages.negative.found.shown import FilmOfFrame, outside_picture
from wetside.stages.negative.scanner.light import UNTOLD
from wetside.stages.negative.scanner.light_surface import Surface, surface_through, weights_along
from wetside.stages.negative.scanner.working import Working

CELLS = 24
LEAST_CELLS = 24
#: Pixels of rebate that make a cell of it.
FEWEST_IN_CELL = 12
#: A difference [D] between two places of the picture that is worth a word.
WORTH = 0.02


@dataclass(frozen=True, slots=True)
class FallOff:
    """`surface`: density (3 layers) [D] that the light lacks at a place, over the base as the roll reads it.

    `one_sided`: rebate was seen on one side of the picture alone, so that across it the fall is supposed.
    """

    surface: Surface
    one_sided: bool = False

    @property
    def error(self) -> float:
        """What the rebate leaves over [D], root mean square."""
        return self.surface.error

    def at(self, x: float, y: float, width: int, height: int) -> np.ndarray:
        """Density (3,) [D] to take off at a place of a file of that size."""
        return self.surface.at(*_place(x, y, width, height))[0]

    def spread_at(self, x: float, y: float, width: int, height: int) -> np.ndarray:
        """How sure (3,) [D] that is: the fit's own error and how far other forms of a fall-off part from it there."""
        return self.surface.spread(*_place(x, y, width, height))[0]


def _place(x: float, y: float, width: int, height: int) -> tuple[np.ndarray, np.ndarray]:
    return np.array([(x - width / 2) / (width / 2)]), np.array([(y - height / 2) / (width / 2)])


def fall_off(frames: Sequence[Working], films: Sequence[FilmOfFrame]) -> FallOff | None:
    """The fall-off that a roll's rebate shows, from at most 24 frames of it."""
    step = max(1, len(frames) // 24)
    chosen = [i for i in range(0, len(frames), step) if films[i].base is not None]
    cells = _cells((frames[i], films[i]) for i in chosen) if chosen else np.empty((0, 5))
    if len(cells) < LEAST_CELLS:
        return None
    u, v, values = cells[:, 0], cells[:, 1], cells[:, 2:]
    tall = _tall(frames[chosen[0]])
    if np.ptp(u) < 0.8 or np.ptp(v) < 0.5 * np.ptp(u) * tall:
        return _from_one_side(u, v, values, tall)
    return FallOff(surface_through(u, v, values))


def _from_one_side(u: np.ndarray, v: np.ndarray, values: np.ndarray, tall: float) -> FallOff | None:
    """The fall-off along the one side that shows rebate, taken as bent alike in all directions about the file's middle.

    A lens and a lamp behind a diffuser fall off so (common practice); nothing shows it, nor a tilt across: UNTOLD stays
    in its spread. None where the rebate is short.
    """
    down = np.ptp(v) > np.ptp(u)
    along, at = (v, float(np.median(u))) if down else (u, float(np.median(v)))
    if np.ptp(along) < 0.8 * (tall if down else 1.0):
        return None
    level, slope, bend = weights_along(along, values)
    bend = np.maximum(bend, 0.0)
    tilt = [0 * slope, slope] if down else [slope, 0 * slope]
    covariance = np.zeros((4, 4))
    covariance[0, 0] = UNTOLD**2
    weights = np.stack([level - bend * at**2, *tilt, bend])
    return FallOff(Surface(weights, 0.0, UNTOLD, covariance), one_sided=True)


def _tall(frame: Working) -> float:
    return frame.height / frame.width


def _cells(pairs: Iterable[tuple[Working, FilmOfFrame]]) -> np.ndarray:
    """Rows (u, v, r, g, b): median density over the frame's own base in cells of rebate, and where its pixels lie, over all frames."""
    gathered: dict[int, list[np.ndarray]] = {}
    for frame, film in pairs:
        density = frame.density
        base = np.array(film.base)
        even, mean = flat(density)
        unexposed = (
            even
            & near_base(mean, base[None], 0.16)
            & _hue(mean, base)
            & outside_picture(density.shape[:2], film.edges)
        )
        unexposed = cv2.erode(unexposed.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        for cell, row in _medians(mean - base.astype(np.float32), unexposed, _tall(frame)):
            gathered.setdefault(cell, []).append(row)
    return np.array([np.median(rows, axis=0) for rows in gathered.values()]).reshape(-1, 5)


def _hue(mean: np.ndarray, base: np.ndarray) -> np.ndarray:
    """Pixels of the base's hue: the light may be weaker there, but not of another colour than by 0.04 D."""
    away = mean - base.astype(np.float32)
    return (np.abs(away[..., 1] - away[..., 0]) < 0.04) & (np.abs(away[..., 2] - away[..., 0]) < 0.04)


def _medians(values: np.ndarray, chosen: np.ndarray, tall: float) -> list[tuple[int, np.ndarray]]:
    """Rows (u, v, r, g, b) of every cell that holds enough chosen pixels: their mean place, which need not be the cell's middle, and their median."""
    height, width = chosen.shape
    rows, columns = np.nonzero(chosen)
    cell = (rows * CELLS // height) * CELLS + columns * CELLS // width
    order = np.argsort(cell, kind="stable")
    numbers, starts = np.unique(cell[order], return_index=True)
    places = np.stack([(columns + 0.5) / width * 2 - 1, ((rows + 0.5) / height * 2 - 1) * tall], axis=1)
    return [
        (int(number), np.concatenate([places[part].mean(axis=0), np.median(values[rows[part], columns[part]], axis=0)]))
        for number, part in zip(numbers, np.split(order, starts[1:]))
        if len(part) >= FEWEST_IN_CELL
    ]  # fmt: skip


def fall_off_said(found: FallOff | None, width: int, height: int) -> tuple[Finding, ...]:
    """A note when the light's fall-off was taken from the rebate and is worth a word."""
    if found is None or found.one_sided:
        return ()
    corners = [found.at(x, y, width, height) for x in (0, width) for y in (0, height)]
    most = float(max(np.abs(c - found.at(width / 2, height / 2, width, height)).max() for c in corners))
    if most < WORTH:
        return ()
    return (
        Finding(
            "light-from-rebate", "note", "roll",
            "without an open gate the light's fall-off is read from the rebate, and a patch counts from the base as it is at its own place; an additive stain cannot be told from it",
            "an open gate", f"{most:.2f} D from the middle to a corner, {found.error:.3f} D left over",
        ),
    )  # fmt: skip
