"""Frames of a roll whose scanner set its own exposure, brought to one level by what they share: the unexposed rebate.

Answers: how much denser was each frame scanned than the roll? Exposure moves all layers alike, so the rebate keeps its
hue and its shape over the frame and only its level moves. Needs rebate in the frame; without it a frame stays as it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, overload

import numpy as np

from wetside.figures.channels import RGB
from wetside.laws.image.layers import lowest
from wetside.stages.negative.found.base import BIN, DENSEST, base_coloured, flat, flat_colours
from wetside.stages.negative.found.film_findings import LOCKED
from wetside.stages.negative.found.shown import FilmOfRoll, outside_picture
from wetside.stages.negative.scanner.light_surface import Surface
from wetside.stages.negative.scanner.working import Working, in_steps

#: What a masked base has over bare light, green and blue over red, at the least [D]; half of it where only the light's
#: own colour, which no open gate took off, can lie between.
ORANGE_HUE = np.array([0.12, 0.16])
ALIKE = 0.03
FEWEST = 60
#: A mode of the rebate's distances is looked for this far from the roll's level [D]: five stops.
REACH = 1.5
MOST_ASKED = 24
#: A frame is levelled when its shift is so many times its own error, and when fewer than this share of the pixels that
#: show the shift lie at the roll's level too.
CLEAR = 4.0
AT_LEVEL = 0.5


class Level(Sequence[Working]):
    """Frames brought to one exposure, and to a level light where what it lacks is known; each made when it is asked for."""

    def __init__(self, frames: Sequence[Working], shifts: np.ndarray, surface: Surface | None = None) -> None:
        self._frames, self._shifts, self._surface = frames, shifts, surface
        self._lacking: dict[tuple[int, ...], np.ndarray] = {}

    def __len__(self) -> int:
        return len(self._frames)

    @overload
    def __getitem__(self, index: int) -> Working: ...
    @overload
    def __getitem__(self, index: slice) -> list[Working]: ...

    def __getitem__(self, index: int | slice) -> Working | list[Working]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        frame, away = self._frames[index], np.float32(self._shifts[index])
        if self._surface is not None:
            return replace(frame, kept=in_steps(frame.density - (self._over(frame) + away)))
        return replace(frame, kept=in_steps(frame.density - away)) if away else frame

    def _over(self, frame: Working) -> np.ndarray:
        """What the light lacks over a frame (h, w, 1) [D]."""
        shape = frame.kept.shape[:2]
        if self._surface is not None and shape not in self._lacking:
            self._lacking = {shape: self._surface.over(*shape)[..., None]}
        return self._lacking[shape]

    def __iter__(self) -> Iterator[Working]:
        return (self[i] for i in range(len(self)))


def shifts_by_hue(densities: Iterable[np.ndarray]) -> np.ndarray | None:
    """How much denser [D] each frame was scanned than the roll's middle, to about BIN; None where hue cannot tell.

    The hue that most frames share in flat stretches is the base's; its thinnest level in a frame tells its exposure.
    """
    seen = [np.array(sorted(flat_colours(density)), float).reshape(-1, 3) for density in densities]
    shared = _base_hues(seen)
    levels = []
    for colours in seen:
        hues = colours[:, 1:] - colours[:, :1]
        own = [c.mean() for c, hue in zip(colours, hues) if any(np.abs(hue - h).max() <= 1 for h in shared)]
        if not own:
            return None
        levels.append(min(own) * BIN)
    return np.array(levels) - float(np.median(levels))


def _base_hues(seen: Sequence[np.ndarray]) -> list[np.ndarray]:
    """Hues (green and blue over red, in bins) that most frames share and that are a mask's, bare light's left out."""
    votes = Counter(hue for c in seen for hue in {(int(h[0]), int(h[1])) for h in c[:, 1:] - c[:, :1]})
    shared = [np.array(hue) for hue, count in votes.items() if count >= 0.6 * len(seen)]
    if not shared:
        return []
    least = min(shared, key=lambda hue: hue.sum())
    masked = [hue for hue in shared if ((hue - least) * BIN > ORANGE_HUE).all()]
    return masked or [hue for hue in shared if (hue * BIN > ORANGE_HUE / 2).all()]


@dataclass(frozen=True)
class Rebate:
    """The roll's rebate as a map: mean density (h, w, 3) [D] where enough frames show it, and where that is."""

    mean: np.ndarray
    known: np.ndarray


def rebate_of_roll(frames: Sequence[Working], film: FilmOfRoll) -> Rebate | None:
    """The rebate that frames at the roll's level share; None when too little of it lies at one place."""
    if film.levels is None or film.base is None:
        return None
    middle = np.array(film.base.density)
    level = [i for i, one in enumerate(film.frames) if one.base and _away(one.base, middle) < LOCKED]
    asked = level[:: max(1, -(-len(level) // MOST_ASKED))]
    if not asked:
        return None
    shape = frames[asked[0]].kept.shape
    total, count, looked = np.zeros(shape, np.float32), np.zeros(shape[:2], np.int32), 0
    for i in asked:
        density = frames[i].density
        if density.shape == shape:
            looked += 1
            here = base_coloured(density, film.levels) & outside_picture(shape[:2], film.frames[i].edges)
            total[here] += density[here]
            count += here
    known = count >= max(1.0, 0.4 * looked)
    if known.sum() < FEWEST:
        return None
    return Rebate(total / np.maximum(count, 1)[..., None], known)


def _away(base: RGB, middle: np.ndarray) -> float:
    return float(np.abs(np.array(base) - middle).max())


class Shift(NamedTuple):
    """How much denser [D] a frame was scanned than the roll, one standard deviation of that, and whether it stands out.

    `clear` is False where about as many pixels of the rebate lie at the roll's own level, or where the shift lies within
    CLEAR of its errors: then the frame is the roll's, and what seems to be moved is a picture's part or grain.
    """

    away: float
    error: float
    clear: bool


def shift_from_rebate(density: np.ndarray, rebate: Rebate) -> Shift | None:
    """How much denser a frame (h, w, 3) lies than the roll's rebate, by the pixels of its hue; None under 60 of them."""
    if density.shape != rebate.mean.shape:
        return None
    even, mean = flat(density)
    away = mean - rebate.mean
    alike = (np.abs(away[..., 1:] - away[..., :1]) < ALIKE).all(axis=2)
    level = away.mean(axis=2)
    values = level[even & alike & rebate.known & (np.abs(level) < REACH) & (lowest(mean) < DENSEST)]
    if len(values) < FEWEST:
        return None
    counts, edges = np.histogram(values, int(2 * REACH / 0.01), (-REACH, REACH))
    about = np.convolve(counts, np.ones(5), "same")
    mode = edges[int(about.argmax())] + 0.005
    near = values[np.abs(values - mode) < 0.04]
    if len(near) < FEWEST // 2:
        return None
    found, error = float(np.median(near)), _error(near)
    at_level = about[len(about) // 2 - 1 : len(about) // 2 + 1].max()
    return Shift(found, error, abs(found) > CLEAR * error and at_level < AT_LEVEL * about.max())


def _error(values: np.ndarray) -> float:
    """One standard deviation [D] of the median of means over 7 × 7 pixels that overlap: one in 49 of them is its own."""
    own = max(1.0, len(values) / 49)
    return float(1.2533 * 1.4826 * np.median(np.abs(values - np.median(values))) / own**0.5)


def shifts_by_rebate(frames: Sequence[Working], even: FilmOfRoll, shifts: np.ndarray) -> np.ndarray:
    """Shifts [D] measured on every frame's rebate; those given stay where a frame shows none.

    even        the film of the frames after `shifts` were taken off
    """
    rebate = rebate_of_roll(Level(frames, shifts), even)
    if rebate is None:
        return shifts
    found = (shift_from_rebate(frame.density, rebate) for frame in frames)
    return np.array([old if new is None else new.away for old, new in zip(shifts, found)])


def strays(frames: Sequence[Working], film: FilmOfRoll) -> np.ndarray:
    """Shifts [D] of a roll that is level but for some frames; 0 for those that are, or whose shift does not stand out."""
    rebate = rebate_of_roll(frames, film)
    if rebate is None:
        return np.zeros(len(frames))
    found = (shift_from_rebate(frame.density, rebate) for frame in frames)
    return np.array([one.away if one and one.clear and abs(one.away) >= LOCKED else 0.0 for one in found])
