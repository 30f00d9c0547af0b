"""The film in a roll of scans: its base, the picture on each frame, its perforations and its scale.

Answers: where is the unexposed film, how dense is it, and where does the picture lie? Needs linear scans that show
some rebate; without any it says so and takes the whole file as picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.density import DensityFrame
from wetside.figures.finding import Finding
from wetside.figures.flags import Left
from wetside.figures.place import Rectangle
from wetside.figures.reading import Base
from wetside.laws.image.layers import lowest
from wetside.stages.negative.base import base_coloured, base_colours, base_of_frame, exposure_shifts
from wetside.stages.negative.perforations import Perforations, clear, perforations
from wetside.stages.negative.picture import Edges, agreed, picture_edges
from wetside.stages.negative.working import Working

MOST_SAMPLED = 16
LOCKED = 0.02
CLIPPED_SHARE = 0.03


@dataclass(frozen=True)
class FilmOfFrame:
    """What one frame shows of the film: picture edges in working pixels, its base, its perforations."""

    edges: Edges
    seen: bool
    base: RGB | None
    holes: Perforations | None


@dataclass(frozen=True)
class FilmOfRoll:
    """What the roll shows. `levels` (k, 3) are the base's levels; None when no base was found.

    `shifts` [D], one a frame, when the scans' exposure was not locked: a frame's levels are `levels` + its shift.
    """

    levels: np.ndarray | None
    base: Base | None
    frames: tuple[FilmOfFrame, ...]
    findings: tuple[Finding, ...] = ()
    shifts: tuple[float, ...] = ()


def film_of_roll(
    frames: Sequence[Working],
    light_known: bool,
    shifts: np.ndarray | None = None,
    levels: np.ndarray | None = None,
) -> FilmOfRoll:
    """Base, pictures and perforations of a roll from its frames at working size; `levels` (k, 3) [D] when shown by hand."""
    step = max(1, len(frames) // MOST_SAMPLED)
    if levels is None:
        levels = base_colours([frame.density for frame in frames[::step]], light_known)
    if levels is None and shifts is None:
        shifts = exposure_shifts([frame.density for frame in frames])
        if shifts is not None:
            level = [replace(f, kept=f.kept - np.float16(s)) for f, s in zip(frames, shifts)]
            even = film_of_roll(level, light_known, shifts)
            own = tuple(_put_back(film, float(s)) for film, s in zip(even.frames, shifts))
            said = (*even.findings, *_not_locked(frames, shifts))
            return replace(even, frames=own, shifts=tuple(float(s) for s in shifts), findings=said)
    if levels is None:
        whole = [
            FilmOfFrame((0.0, 0.0, float(f.kept.shape[1]), float(f.kept.shape[0])), False, None, None)
            for f in frames
        ]
        return FilmOfRoll(None, None, tuple(whole), _no_base(frames))
    found = [picture_edges(frame.density, levels) for frame in frames]
    edges = agreed(found)
    films = tuple(
        _film_of_frame(frame, place, seen is not None, levels)
        for frame, place, seen in zip(frames, edges, found)
    )
    base = _base_of_roll(films)
    found_ = (*_drift(frames, films, light_known), *_turned(frames, films))
    return FilmOfRoll(levels, base, films, found_)


def _film_of_frame(frame: Working, edges: Edges | None, seen: bool, levels: np.ndarray) -> FilmOfFrame:
    density = frame.density
    height, width = density.shape[:2]
    place = edges or (0.0, 0.0, float(width), float(height))
    outside = outside_picture((height, width), place)
    base = base_of_frame(density, base_coloured(density, levels) & outside)
    holes = perforations(density, levels.mean(axis=0))
    return FilmOfFrame(place, seen, rgb(base.density) if base else None, holes)


def outside_picture(shape: tuple[int, int], edges: Edges) -> np.ndarray:
    """True outside the picture, a few pixels away from its edge."""
    outside = np.ones(shape, bool)
    left, top, right, bottom = edges
    outside[max(0, int(top) - 3) : int(bottom) + 4, max(0, int(left) - 3) : int(right) + 4] = False
    return outside


def _base_of_roll(films: Sequence[FilmOfFrame]) -> Base | None:
    seen = np.array([film.base for film in films if film.base is not None])
    if len(seen) == 0:
        return None
    middle = np.median(seen, axis=0)
    scatter = 1.4826 * np.median(np.abs(seen - middle), axis=0)
    spread = np.sqrt((scatter**2) / len(seen) + 0.002**2)
    return Base(rgb(middle), rgb(spread), "rebate")


def _no_base(frames: Sequence[Working]) -> tuple[Finding, ...]:
    missing = Finding(
        "no-rebate", "warning", "roll", "no unexposed film is seen in these scans, so no density above base can be read",
        "an even, orange strip of rebate shared by most frames", f"none in {len(frames)} frames",
        "scan again with the rebate in the frame",
    )  # fmt: skip
    share = float(np.median([(frame.mask & int(Left.CLIPPED) > 0).mean() for frame in frames]))
    if share < CLIPPED_SHARE:
        return (missing,)
    clipped = Finding(
        "base-clipped", "warning", "roll", "much of every frame is clipped to white: the thinnest film may be among it",
        f"under {CLIPPED_SHARE:.0%} of a frame at full scale", f"{share:.0%}",
        "scan again with less exposure: the rebate at three quarters of full scale",
    )  # fmt: skip
    return missing, clipped


def _turned(frames: Sequence[Working], films: Sequence[FilmOfFrame]) -> tuple[Finding, ...]:
    """Frames whose perforations lie at the other edge than most frames': turned, or mirrored top to bottom."""
    edges = [film.holes.edge for film in films if film.holes is not None and film.holes.edge != "both"]
    if len(edges) < 3 or len(set(edges)) == 1:
        return ()
    usual = max(set(edges), key=edges.count)
    return tuple(
        Finding(
            "turned", "warning", frame.file, "its perforations lie at the other edge than the roll's: turned or upside down",
            f"perforations at the {usual}", f"at the {film.holes.edge}", "scan this strip again the same way round",
        )
        for frame, film in zip(frames, films)
        if film.holes is not None and film.holes.edge not in ("both", usual)
    )  # fmt: skip


def _put_back(film: FilmOfFrame, shift: float) -> FilmOfFrame:
    """A frame's base at the level of its own scan."""
    return film if film.base is None else replace(film, base=rgb(value + shift for value in film.base))


def _not_locked(frames: Sequence[Working], shifts: np.ndarray) -> tuple[Finding, ...]:
    """One finding a frame whose scan's exposure lies away from the roll's."""
    return tuple(
        Finding(
            "exposure-not-locked", "warning", frame.file, "the scan's exposure differs from the roll's",
            f"base within {LOCKED} D of the roll's", f"{shift:+.2f} D in all layers", "lock the scanner's exposure and scan again",
        )
        for frame, shift in zip(frames, shifts)
        if abs(shift) > LOCKED
    )  # fmt: skip


def _drift(frames: Sequence[Working], films: Sequence[FilmOfFrame], light_known: bool) -> tuple[Finding, ...]:
    """Frames whose base lies away from the roll's: another exposure of the scan, or another roll."""
    seen = [(frame.file, np.array(film.base)) for frame, film in zip(frames, films) if film.base is not None]
    if len(seen) < 3:
        return ()
    middle = np.median([base for _, base in seen], axis=0)
    found = []
    for file, base in seen:
        away = base - middle
        if np.abs(away).max() < LOCKED:
            continue
        even = np.ptp(away) < LOCKED
        found.append(
            Finding(
                "exposure-not-locked" if even else "base-differs", "warning", file,
                "the scan's exposure differs from the roll's" if even else "its base has another colour than the roll's: another roll, or another light",
                f"base within {LOCKED} D of the roll's", f"{away[0]:+.3f} {away[1]:+.3f} {away[2]:+.3f} D",
                "lock the scanner's exposure and scan again" if even else "scan one roll into one folder",
            )
        )  # fmt: skip
    return tuple(found)


def density_frame(
    frame: Working, film: FilmOfFrame, levels: np.ndarray | None, number: int, px_per_mm: float | None
) -> DensityFrame:
    """The frame as those who look for marks and casts take it."""
    density = frame.density
    height, width = density.shape[:2]
    mask = frame.mask.copy()
    outside = outside_picture((height, width), film.edges)
    sides: dict[str, RGB] = {}
    places: dict[str, float] = {}
    bare: dict[str, RGB] = {}
    if levels is not None:
        mask[outside] |= int(Left.REBATE)
        holes = clear(density, levels.mean(axis=0))
        of_base = base_coloured(density, levels)
        mask[holes] |= int(Left.PERFORATION)
        mask[lowest(density) > 2.6] |= int(Left.OUTSIDE_FILM)
        for side, region in side_regions((height, width), film.edges).items():
            found = base_of_frame(density, of_base & region)
            if found is not None:
                sides[side] = rgb(found.density)
                rows = np.flatnonzero((of_base & region).any(axis=1))
                weights = (of_base & region).sum(axis=1)[rows]
                places[side] = float(
                    (np.average(rows, weights=weights) + 0.5 - film.edges[1])
                    / max(1.0, film.edges[3] - film.edges[1])
                )
            light = density[region & holes & (frame.mask & int(Left.CLIPPED) == 0)]
            if side in ("top", "bottom") and len(light) > 40:
                bare[side] = rgb(np.median(light, axis=0))
    return DensityFrame(
        frame.file,
        number,
        frame.density,
        mask,
        rectangle(film.edges, frame),
        frame.shrink,
        film.base,
        px_per_mm,
        sides,
        places,
        bare,
    )


def side_regions(shape: tuple[int, int], edges: Edges) -> dict[str, np.ndarray]:
    """Strips above, below, left and right of the picture, away from its corners."""
    height, width = shape
    left, top, right, bottom = (int(v) for v in edges)
    regions = {}
    for side, rows, columns in (
        ("top", slice(0, max(0, top - 3)), slice(max(0, left), right)),
        ("bottom", slice(bottom + 4, height), slice(max(0, left), right)),
        ("left", slice(max(0, top), bottom), slice(0, max(0, left - 3))),
        ("right", slice(max(0, top), bottom), slice(right + 4, width)),
    ):
        region = np.zeros((height, width), bool)
        region[rows, columns] = True
        regions[side] = region
    return regions


def rectangle(edges: Edges, frame: Working) -> Rectangle:
    """Edges in working pixels as a rectangle of whole pixels of the file."""
    left, top, right, bottom = (round(v * frame.shrink) for v in edges)
    return Rectangle(left, top, right - left, bottom - top).clipped_to(frame.width, frame.height)
