"""The film in a roll of scans: its base, the picture on each frame, its perforations and its scale.

Answers: where is the unexposed film, how dense is it, and where does the picture lie? Needs linear scans that show
some rebate; without any it says so and takes as picture what the holder leaves open.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from wetside.figures.abreast import abreast
from wetside.figures.channels import RGB, rgb
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.figures.reading import Base
from wetside.laws.image.layers import chosen_pixels, medians
from wetside.stages.negative.found.base import base_coloured_in, base_colours, base_of_pixels
from wetside.stages.negative.found.film_findings import (
    LOCKED,
    drift,
    no_base,
    not_locked,
    pictures_supposed,
    skewed,
    turned,
)
from wetside.stages.negative.found.perforations import clear, perforations
from wetside.stages.negative.found.picture import OPAQUE, Edges, agreed, picture_edges, supposed, uncovered
from wetside.stages.negative.found.shown import (
    FilmOfFrame,
    FilmOfRoll,
    parts_beside,
    parts_outside,
    rectangle,
)
from wetside.stages.negative.found.skew import SEEN, skew, unskewed_edges
from wetside.stages.negative.found.sound_base import lie_alike, with_sound_base
from wetside.stages.negative.found.steady import steady
from wetside.stages.negative.measured.patches import STRAY
from wetside.stages.negative.scanner.fall_off import WORTH, FallOff, fall_off, fall_off_said
from wetside.stages.negative.scanner.levelling import Level, shifts_by_hue, shifts_by_rebate, strays
from wetside.stages.negative.scanner.light_surface import Surface
from wetside.stages.negative.scanner.working import STEP_ERROR, Working

MOST_SAMPLED = 16
#: So many frames' bases tell how much the light changes from scan to scan.
FEWEST_BASES = 4


def film_of_roll(
    frames: Sequence[Working], light_known: bool, levels: np.ndarray | None = None
) -> FilmOfRoll:
    """Base, pictures and perforations of a roll from its frames at working size; `levels` (k, 3) [D] when shown by hand."""
    if levels is not None:
        return with_sound_base(frames, _film_at(frames, light_known, levels, least=0.0))
    found = (
        _steady_film(frames, light_known)
        or _locked_film(frames, light_known)
        or _not_locked_film(frames, light_known)
        or _without_base(frames)
    )
    return with_sound_base(frames, found)


def _steady_film(frames: Sequence[Working], light_known: bool) -> FilmOfRoll | None:
    """The film once its exposures and its light are level, as far as what the frames share shows them."""
    found = steady(frames)
    if found is None:
        return None
    shifts = found.shifts if np.abs(found.shifts).max() > LOCKED else np.zeros(len(frames))
    surface = None if light_known or found.span < WORTH else found.surface
    film = _evened(frames, light_known, shifts, surface)
    return film if film is None or not shifts.any() else _put_back(frames, film, shifts)


def _locked_film(frames: Sequence[Working], light_known: bool) -> FilmOfRoll | None:
    """The film of scans taken as they are; None where no base is shared."""
    levels = base_colours(_sampled(frames), light_known)
    film = None if levels is None else _film_at(frames, light_known, levels)
    return None if film is None or film.base is None else _with_strays(frames, light_known, film)


def _sampled(frames: Sequence[Working]) -> Iterator[np.ndarray]:
    """Densities of at most 16 frames spread over the roll, one in memory at a time."""
    return (frames[i].density for i in range(0, len(frames), -(-len(frames) // MOST_SAMPLED)))


def _with_strays(frames: Sequence[Working], light_known: bool, film: FilmOfRoll) -> FilmOfRoll:
    """The film with the frames that were scanned at another exposure brought to the roll's, by their rebate."""
    shifts = strays(frames, film)
    even = _evened(frames, light_known, shifts, locked=True) if shifts.any() else None
    return film if even is None else _put_back(frames, even, shifts)


def _film_at(
    frames: Sequence[Working],
    light_known: bool,
    levels: np.ndarray,
    least: float = 0.5,
    surface: Surface | None = None,
) -> FilmOfRoll:
    """The film when its base has these levels; no base when a smaller share of the frames than `least` shows it."""
    found, angles = zip(*abreast(lambda frame: _edges(frame, levels), frames))
    edges, films = _films(frames, found, angles, levels)
    lost = [own is not None and film.base is None for own, film in zip(found, films)]
    if any(lost) and sum(film.base is not None for film in films) >= FEWEST_BASES - 1:
        # What shows none of the roll's base shows no edge against it either.
        found = tuple(None if gone else own for gone, own in zip(lost, found))
        edges, films = _films(frames, found, angles, levels)
    if sum(film.base is not None for film in films) < least * len(films):
        return FilmOfRoll(None, None, films)
    fall = None if light_known else fall_off(frames, films) if surface is None else FallOff(surface)
    said = (
        *drift(frames, films, light_known),
        *turned(frames, films),
        *skewed(frames, angles),
        *pictures_supposed([f.file for f, own, at in zip(frames, found, edges) if supposed(own, at)]),
        *fall_off_said(fall, frames[0].width, frames[0].height),
    )
    base, light = _base_of_roll(films, light_known)
    return FilmOfRoll(levels, base, films, said, fall=fall, surface=surface, light=light)


def _films(
    frames: Sequence[Working],
    found: Sequence[Edges | None],
    angles: Sequence[float | None],
    levels: np.ndarray,
) -> tuple[list[Edges | None], tuple[FilmOfFrame, ...]]:
    """The pictures' edges as the roll's frames agree on them, and what each frame shows of the film with them."""
    edges = agreed(found)
    films = abreast(
        lambda one: _film_of_frame(one[0], one[1], one[2] is not None, one[3], levels),
        zip(frames, edges, found, angles),
    )
    return edges, tuple(films)


def _edges(frame: Working, levels: np.ndarray) -> tuple[Edges | None, float | None]:
    """Edges of one frame's picture, and the angle it lies turned by where that is worth a word."""
    density = frame.density
    edges = picture_edges(density, levels)
    angle = None if edges is None else skew(density, levels, edges)
    if edges is None or angle is None or abs(angle) < SEEN:
        return edges, None
    return unskewed_edges(density, levels, edges, angle), angle


def _not_locked_film(frames: Sequence[Working], light_known: bool) -> FilmOfRoll | None:
    """The film of a roll whose scanner set its exposure frame by frame; None where hue does not tell the base."""
    coarse = shifts_by_hue(frame.density for frame in frames)
    even = None if coarse is None else _evened(frames, light_known, coarse)
    if coarse is None or even is None:
        return None
    shifts = shifts_by_rebate(frames, even, coarse)
    shifts -= float(np.median(shifts))
    return _put_back(frames, _evened(frames, light_known, shifts) or even, shifts)


def _put_back(frames: Sequence[Working], even: FilmOfRoll, shifts: np.ndarray) -> FilmOfRoll:
    """The evened roll's film with every frame's base at the level of its own scan."""
    own = tuple(
        film if film.base is None else replace(film, base=rgb(np.array(film.base) + shift))
        for film, shift in zip(even.frames, shifts)
    )
    said = (*even.findings, *not_locked(frames, shifts))
    return replace(even, frames=own, shifts=tuple(float(s) for s in shifts), findings=said)


def _evened(
    frames: Sequence[Working],
    light_known: bool,
    shifts: np.ndarray,
    surface: Surface | None = None,
    locked: bool = False,
) -> FilmOfRoll | None:
    """The film once its frames have the roll's exposure and a level light if known; bare light need not lie at 0 D unless
    most frames were `locked`."""
    level = Level(frames, shifts, surface)
    at_zero = locked or not shifts.any()
    levels = base_colours(_sampled(level), light_known, at_zero)
    film = None if levels is None else _film_at(level, light_known, levels, surface=surface)
    return None if film is None or film.base is None or not lie_alike(film) else film


def _without_base(frames: Sequence[Working]) -> FilmOfRoll:
    """Pictures as far as the holder lets them be seen, and why there is no base."""
    films = tuple(FilmOfFrame(uncovered(frame.density), False, None, None) for frame in frames)
    return FilmOfRoll(None, None, films, no_base(frames))


def _film_of_frame(
    frame: Working, edges: Edges | None, seen: bool, angle: float | None, levels: np.ndarray
) -> FilmOfFrame:
    density = frame.density
    height, width = density.shape[:2]
    place = edges or (0.0, 0.0, float(width), float(height))
    parts = parts_outside((height, width), place)
    bare = [chosen_pixels(density[part], base_coloured_in(density, levels, part)) for part in parts]
    base = base_of_pixels(np.concatenate(bare)) if bare else None
    holes = perforations(clear(frame, levels.mean(axis=0)))
    return FilmOfFrame(place, seen, None if base is None else rgb(base), holes, angle or 0.0)


def _base_of_roll(films: Sequence[FilmOfFrame], light_known: bool) -> tuple[Base | None, RGB | None]:
    """The roll's base, and how much the light changes from scan to scan as its frames' own bases show it; None under FEWEST_BASES.

    With an open gate, that one scan's own change is in the base's spread too.
    """
    seen = np.array([film.base for film in films if film.base is not None])
    if len(seen) == 0:
        return None, None
    middle = np.median(seen, axis=0)
    kept = np.full(3, STEP_ERROR)
    told = len(seen) >= FEWEST_BASES
    light = np.hypot(_scatter(seen, middle), kept) if told else np.full(3, STRAY)
    spread = np.sqrt(light**2 / len(seen) + kept**2 + (light**2 if light_known else 0.0))
    return Base(rgb(middle), rgb(spread), "rebate"), rgb(light) if told else None


def _scatter(seen: np.ndarray, middle: np.ndarray) -> np.ndarray:
    """Standard deviation (3,) of a few bases (n, 3), one far off left out; widened as Student's t is for so few."""
    away = np.abs(seen - middle)
    near = (away <= 4 * (1.4826 * np.median(away, axis=0) + 0.001)).all(axis=1)
    count = int(near.sum())
    if count < FEWEST_BASES:
        return np.full(3, STRAY)
    return seen[near].std(axis=0, ddof=1) * np.sqrt((count - 1) / (count - 3))


def density_frame(
    frame: Working,
    film: FilmOfFrame,
    levels: np.ndarray | None,
    number: int,
    px_per_mm: float | None,
    surface: Surface | None = None,
) -> DensityFrame:
    """The frame as those who look for marks and casts take it; `surface`, what its light lacks, tells film from holes."""
    density, mask, beside = frame.density, frame.mask.copy(), _Beside()
    if levels is not None:
        even = frame if surface is None else Level([frame], np.zeros(1), surface)[0]
        holes = clear(even, levels.mean(axis=0))
        for part in parts_outside(mask.shape, film.edges):
            mask[part] |= int(Left.REBATE)
        mask[holes] |= int(Left.PERFORATION)
        mask[frame.over(OPAQUE)] |= int(Left.OUTSIDE_FILM)
        level = density if surface is None else even.density
        bare = holes & (frame.mask & int(Left.CLIPPED) == 0)
        beside = _beside(density, level, film, levels, bare)
    return DensityFrame(
        frame.file,
        number,
        density,
        mask,
        rectangle(film.edges, frame),
        frame.shrink,
        film.base,
        px_per_mm,
        beside.bases,
        beside.places,
        beside.lights,
        film.angle,
    )


@dataclass(frozen=True, slots=True)
class _Beside:
    """What lies on each side of a picture: the base's density [D], where across the picture it lies, and bare light [D]."""

    bases: dict[str, RGB] = field(default_factory=dict)
    places: dict[str, float] = field(default_factory=dict)
    lights: dict[str, RGB] = field(default_factory=dict)


def _beside(
    density: np.ndarray, level: np.ndarray, film: FilmOfFrame, levels: np.ndarray, bare: np.ndarray
) -> _Beside:
    """Base and light beside the picture of a frame (h, w, 3) [D]; `level`: the same under a level light, `bare` (h, w): where nothing but light is."""
    found = _Beside()
    for side, part in parts_beside(bare.shape, film.edges).items():
        of_base = base_coloured_in(level, levels, part)
        base = base_of_pixels(chosen_pixels(density[part], of_base))
        if base is not None:
            found.bases[side] = rgb(base)
            found.places[side] = _across(of_base, part[0].start, film)
        if side in ("top", "bottom") and np.count_nonzero(bare[part]) > 40:
            found.lights[side] = rgb(medians(chosen_pixels(density[part], bare[part])))
    return found


def _across(of_base: np.ndarray, first: int, film: FilmOfFrame) -> float:
    """Where across the picture (0 its top edge, 1 its bottom) a side's base-coloured pixels (h, w) lie, from row `first` on."""
    weights = of_base.sum(axis=1)
    rows = np.flatnonzero(weights)
    middle = np.average(rows + first, weights=weights[rows]) + 0.5
    return float((middle - film.edges[1]) / max(1.0, film.edges[3] - film.edges[1]))
