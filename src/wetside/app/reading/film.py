"""The film of a roll: as found, or as the user showed its base and its pictures by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wetside.app.reading.loaded import Loaded
from wetside.app.reading.read_options import PatchAt, ReadOptions
from wetside.figures.finding import Unusable
from wetside.stages.negative.found.film import film_of_roll
from wetside.stages.negative.found.shown import FilmOfFrame, FilmOfRoll
from wetside.stages.negative.scanner.veil_off import base_unveiled
from wetside.stages.negative.scanner.working import Working


def film_found(loaded: Loaded, options: ReadOptions) -> FilmOfRoll:
    """The film as found, or from the base that the user showed; what stray light leaves is in the base's spread."""
    film = film_of_roll(loaded.frames, loaded.lit, levels=_levels_shown(loaded, options.base_at))
    return replace(film, base=base_unveiled(film.base, loaded.flares))


def _levels_shown(loaded: Loaded, at: PatchAt | None) -> np.ndarray | None:
    shown = None if at is None else loaded.index_of(at.file)
    if at is None or shown is None:
        return None
    frame = loaded.frames[shown]
    x, y, w, h = (int(v / frame.shrink) for v in loaded.own_box(shown, at.box))
    part = frame.density[y : y + max(2, h), x : x + max(2, w)].reshape(-1, 3)
    if len(part) < 4:
        raise Unusable("the base shown by hand lies outside its frame", at.file)
    return np.median(part, axis=0)[None]


def pictures_shown(film: FilmOfRoll, loaded: Loaded, shown: Sequence[PatchAt]) -> FilmOfRoll:
    """Edges that the user showed stand in for those found."""
    by_file = {at.file: at.box for at in shown}
    films = []
    for index, (frame, own) in enumerate(zip(loaded.frames, film.frames)):
        box = by_file.get(frame.file)
        if box is not None:
            x, y, w, h = (v / frame.shrink for v in loaded.own_box(index, box))
            own = replace(own, edges=(x, y, x + w, y + h), seen=True)
        films.append(own)
    return replace(film, frames=tuple(films))


def no_film(frames: Sequence[Working]) -> FilmOfRoll:
    """Files without densities: a picture that reaches to the edges and no base."""
    whole = tuple(
        FilmOfFrame((0.0, 0.0, float(f.kept.shape[1]), float(f.kept.shape[0])), False, None, None)
        for f in frames
    )
    return FilmOfRoll(None, None, whole)
