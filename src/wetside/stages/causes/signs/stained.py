"""Marks on the unexposed film, told from what belongs there: print by light, a neighbour's picture, what a row holds all along."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from wetside.laws.image.layers import highest
from wetside.stages.causes.signs.edge_print import edge_print
from wetside.stages.causes.signs.unexposed import END, PICTURE_RIM, Unexposed, grown

#: Density [D] from which a place is surely changed, and from which it belongs to a changed place beside it; both also in scatters.
SURE, BESIDE = 0.03, 0.015
SURE_SCATTERS, BESIDE_SCATTERS = 6.0, 3.5
#: Fewest pixels at half size of a mark, and of those that are sure.
SMALLEST, SEEDS = 8, 3
#: Thin places so many pixels round a hole are its light.
HALO = 7
#: A thick place that fills so much of a row of film is a cast.
ALL_ALONG, THICK = 0.8, 10
#: Pixels round the picture of which no more than these shares may be changed, all round and of the length of one side.
BAND, MOST_ROUND, MOST_OF_SIDE = 9, 0.2, 0.4
#: Nor more of all film than this.
MOST_CHANGED = 0.15
#: A place at the scan's end that is thinner than so many pixels is a piece of something that the scan does not show.
PIECE = 5
#: A dense place along the picture's rim that is longer than so many pixels, and shallow, is the picture's own edge that lies askew.
LONG, SHALLOW = 30, 0.25
#: Parts of one mark lie no farther apart than this many pixels at half size.
DIVIDED = 14


@dataclass(frozen=True)
class Stained:
    """A place of the unexposed film that is denser or thinner: its area (h, w) bool at half size, ΔD and spread (3,) [D]."""

    area: np.ndarray
    delta: np.ndarray
    spread: np.ndarray


def judged(film: Unexposed | None) -> Unexposed | None:
    """The film without print and neighbours' pictures; None where the picture's place is not sure, so that its own parts lie on "film"."""
    if film is None or not (highest(np.abs(film.away)) > SURE).any():
        return film
    kept = film.film & ~edge_print(highest(film.away), film.film, film.slope)
    kept &= ~neighbours(film, kept)
    if _not_the_picture(film, kept):
        return None
    return replace(film, film=kept, away=np.where(kept[..., None], film.away, 0).astype(np.float32))


def stained_places(film: Unexposed) -> list[Stained]:
    """Places of the unexposed film that are denser or thinner than it, largest first."""
    most = highest(np.abs(film.away))
    sure = most > np.maximum(SURE, SURE_SCATTERS * film.scatter)
    if not sure.any():
        return []
    beside = most > np.maximum(BESIDE, BESIDE_SCATTERS * film.scatter)
    denser = highest(film.away) >= highest(-film.away)
    found = [
        _measured(film, area)
        for side in (denser, ~denser)
        for area in areas_with(beside & side, sure & side)
        if not _belongs_there(area, side is not denser, film)
    ]
    large = [one for one in found if np.abs(one.delta).max() > SURE]
    return _joined(film, sorted(large, key=lambda one: -int(one.area.sum())))


def _joined(film: Unexposed, largest_first: list[Stained]) -> list[Stained]:
    """The places, parts of one colour that only print or a hole divides taken as one."""
    kept: list[Stained] = []
    for place in largest_first:
        near = grown(place.area, DIVIDED)
        whole = next(
            (i for i, one in enumerate(kept) if _alike(one, place) and (near & one.area).any()), None
        )
        if whole is None:
            kept.append(place)
        else:
            kept[whole] = _measured(film, kept[whole].area | place.area)
    return kept


def _alike(one: Stained, other: Stained) -> bool:
    a, b = float(np.linalg.norm(one.delta)), float(np.linalg.norm(other.delta))
    return float(one.delta @ other.delta) > 0.9 * a * b and 0.25 * a < b < 4 * a


def _not_the_picture(film: Unexposed, kept: np.ndarray) -> bool:
    """Whether film along much of the picture, or of one of its sides, is changed: then that is the picture, and its place was taken wrongly."""
    band = kept & grown(film.picture, BAND)
    changed = band & (highest(np.abs(film.away)) > SURE)
    everywhere = kept & (highest(np.abs(film.away)) > SURE)
    if changed.sum() > MOST_ROUND * band.sum() or everywhere.sum() > MOST_CHANGED * kept.sum():
        return True
    rows, columns = np.flatnonzero(film.picture.any(axis=1)), np.flatnonzero(film.picture.any(axis=0))
    if len(rows) == 0:
        return False
    along = ((np.s_[: rows[0]], 0, len(columns)), (np.s_[rows[-1] + 1 :], 0, len(columns)),
             (np.s_[:, : columns[0]], 1, len(rows)), (np.s_[:, columns[-1] + 1 :], 1, len(rows)))  # fmt: skip
    return any(changed[side].any(axis=axis).sum() > MOST_OF_SIDE * long for side, axis, long in along)


def areas_with(wide: np.ndarray, seeds: np.ndarray) -> list[np.ndarray]:
    """The connected parts (h, w) bool of an area that hold seeds and are not too small."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(wide.astype(np.uint8), connectivity=8)
    held = np.bincount(labels[seeds & wide], minlength=count)
    return [
        labels == i for i in range(1, count) if held[i] >= SEEDS and stats[i, cv2.CC_STAT_AREA] >= SMALLEST
    ]


def neighbours(film: Unexposed, kept: np.ndarray) -> np.ndarray:
    """What lies in a neighbour's picture (h, w) bool: beside the picture, dense as far as the scan shows film."""
    lost = np.zeros(kept.shape, bool)
    rows, columns = np.flatnonzero(film.picture.any(axis=1)), np.flatnonzero(film.picture.any(axis=0))
    if len(rows) == 0:
        return lost
    across = slice(max(0, rows[0] - 2), rows[-1] + 3)
    for side, way in ((slice(0, columns[0]), 1), (slice(columns[-1] + 1, None), -1)):
        seen, dense = (part[across, side][:, ::way] for part in (kept, kept & (highest(film.away) > SURE)))
        shown = np.flatnonzero(seen.any(axis=0))
        if len(shown) == 0 or not dense[:, shown[0] : shown[0] + 2].any():
            continue
        _, labels = cv2.connectedComponents(np.ascontiguousarray(dense).astype(np.uint8), connectivity=8)
        at_end = np.unique(labels[:, shown[0] : shown[0] + 2])
        reach = np.flatnonzero(np.isin(labels, at_end[at_end > 0]).any(axis=0))[-1] + 3
        lost[across, side][:, ::way][:, :reach] = True
    return lost


def _belongs_there(area: np.ndarray, thin: bool, film: Unexposed) -> bool:
    """Whether a changed area is the light of a hole, a cast along the film, a sliver at the scan's end or of the picture."""
    if thin and grown(film.holes, HALO)[area].mean() > 0.5:
        return True
    rows, columns = np.flatnonzero(area.any(axis=1)), np.flatnonzero(area.any(axis=0))
    for own, size in ((rows, area.shape[0]), (columns, area.shape[1])):
        if len(own) < PIECE and (own[0] <= END or own[-1] >= size - 1 - END):
            return True
    long, short = max(len(rows), len(columns)), min(len(rows), len(columns))
    if (
        not thin
        and long > LONG
        and short < SHALLOW * long
        and grown(film.picture, PICTURE_RIM + 4)[area].mean() > 0.5
    ):
        return True
    seen = int(film.film[rows[0] : rows[-1] + 1].any(axis=0).sum())
    return len(columns) > ALL_ALONG * seen and int(area.sum()) > THICK / 2 * len(columns)


def _measured(film: Unexposed, area: np.ndarray) -> Stained:
    """The change over the stronger half of an area, and the spread of that."""
    own = film.away[area]
    strength = np.abs(own).max(axis=1)
    core = own[strength >= 0.6 * np.percentile(strength, 90)]
    delta = np.median(core, axis=0)
    scatter = 1.4826 * np.median(np.abs(core - delta), axis=0)
    # Smoothed over nine pixels, so each nine tell one thing.
    return Stained(
        area,
        delta,
        np.hypot(scatter / np.sqrt(max(1.0, len(core) / 9)), float(np.median(film.scatter[area]))),
    )
