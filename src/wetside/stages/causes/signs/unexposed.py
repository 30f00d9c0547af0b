"""The unexposed film of a frame (rebate, gaps between frames, strips between perforations and edge), less its own density.

Theory. Film that saw no light is flat and of known density, so a stain, fog, residue or a scratch on it stands out where
the net is lost in a busy picture. The light's fall-off and a cast across the film are smooth: a low surface laid through
the film by a redescending fit takes them off. Bare light round the perforations, the picture's soft rim and the holder's
shadow go by the distance from them alone: the middle of all film at that distance is taken off, and its scatter there is
what a mark must stand out of.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.laws.image.layers import highest, medians, pixels_at

#: Fewest pixels at half size of film that can be judged.
FEWEST = 400
#: Pixels at half size round holes and holder, round the picture, and at the scan's own rim that are not judged.
RIM, PICTURE_RIM, END = 2, 2, 2
#: Pixels at half size over which a rim's light may reach.
REACH = 9
#: Density [D] round the frame's base within which the first surface is laid; over it in all layers, where nothing but the holder is.
NEAR, HOLDER = 0.15, 0.9
#: Film of which more than this share is so much [D] off is no unexposed film: the picture's place is then not sure.
CHANGED, MOST_CHANGED = 0.045, 0.25
#: Pixels that tell the middle and scatter of film at one distance from a rim.
TOLD = 600
#: Bare light is thinner than the base by so much [D] in all layers; fewest pixels at half size that a hole is wide.
THINNER, SMALLEST_HOLE = 0.08, 5
LEAST_OF_ALL, MOST_OF_ALL = (float("-inf"),) * 3, (float("inf"),) * 3
LEFT_OUT = Left.OUTSIDE_FILM | Left.BLACK | Left.NOT_FINITE | Left.CLIPPED


@dataclass(frozen=True)
class Unexposed:
    """The unexposed film of a frame at half of the working size.

    away      (h, w, 3) float32 [D], density less that of the unexposed film there; 0 outside of it
    film      (h, w) bool, unexposed film that can be judged
    picture   (h, w) bool, the picture as it lies, turned
    holes     (h, w) bool, bare light
    scatter   (h, w) float32 [D] of `away`, its worst layer
    slope     rows a column by which the film runs down
    """

    away: np.ndarray
    film: np.ndarray
    picture: np.ndarray
    holes: np.ndarray
    scatter: np.ndarray
    slope: float


def unexposed_film(frame: DensityFrame, half: np.ndarray) -> Unexposed | None:
    """The unexposed film of a frame less its own density; None where too little of it is seen, or the picture's place is not sure.

    `half` (h, w, 3) [D] is the frame's density at half size.
    """
    if frame.base is None:
        return None
    tall, wide = half.shape[:2]
    picture = _picture(frame, tall, wide)
    if picture.all():
        return None
    base = np.array(frame.base, np.float32)
    why = _reasons(frame, tall, wide)
    holes = _held(why, Left.PERFORATION) | bare_light(half, base)
    hidden = _held(why, LEFT_OUT) & ~holes | _holder(half, base)
    film = ~grown(holes | hidden, RIM) & ~grown(picture, PICTURE_RIM)
    film[:END] = film[-END:] = film[:, :END] = film[:, -END:] = False
    places = np.flatnonzero(film)
    if len(places) < FEWEST:
        return None
    away = _smoothed(_off_surface(half, film, base, places), film, places)
    changed = highest(np.abs(pixels_at(away, places))[None])
    if (changed > CHANGED).mean() > MOST_CHANGED:
        return None
    away, scatter = _without_rims(away, film, (picture, holes, hidden))
    return Unexposed(away, film, picture, holes, scatter, float(np.tan(np.radians(frame.angle))))


def _picture(frame: DensityFrame, tall: int, wide: int) -> np.ndarray:
    """The picture (h, w) bool at half size, turned as it lies."""
    x, y, w, h = (v / frame.shrink / 2 for v in frame.picture)
    corners = cv2.boxPoints(((x + w / 2 - 0.5, y + h / 2 - 0.5), (w, h), frame.angle))
    drawn = np.zeros((tall, wide), np.uint8)
    cv2.fillConvexPoly(drawn, np.round(corners * 16).astype(np.int32), 1, shift=4)
    return drawn > 0


def _reasons(frame: DensityFrame, tall: int, wide: int) -> np.ndarray:
    """Why any pixel of each cell of 2 × 2 is left out, (h, w) uint16."""
    mask = frame.mask[: 2 * tall, : 2 * wide]
    found: np.ndarray = mask[::2, ::2] | mask[1::2, ::2]
    found |= mask[::2, 1::2]
    found |= mask[1::2, 1::2]
    return found


def _held(why: np.ndarray, reasons: Left) -> np.ndarray:
    """Cells (h, w) bool that are left out for one of some reasons."""
    found: np.ndarray = (why & np.uint16(int(reasons))) != 0
    return found


def bare_light(half: np.ndarray, base: np.ndarray) -> np.ndarray:
    """Holes (h, w) bool as nothing else on unexposed film is: compact and thinner than the film in all layers.

    Needs no light's level, which scans without an open gate do not tell; what else thins such film is a scratch, long and narrow.
    """
    thin = cv2.inRange(half, LEAST_OF_ALL, tuple(float(v) for v in base - THINNER))
    found = np.zeros(thin.shape, bool)
    tall, wide = thin.shape
    if cv2.countNonZero(thin) < SMALLEST_HOLE:
        return found
    _, labels, stats, _ = cv2.connectedComponentsWithStats(thin, connectivity=4)
    for i, (x, y, w, h, area) in enumerate(stats.tolist()[1:], 1):
        compact = area > 0.7 * w * h and max(w, h) < 2.5 * min(w, h) and min(w, h) >= SMALLEST_HOLE
        if compact and w < wide / 4 and h < tall / 3:
            found[y : y + h, x : x + w] |= labels[y : y + h, x : x + w] == i
    return found


def _holder(half: np.ndarray, base: np.ndarray) -> np.ndarray:
    """Where the holder covers the film, however grey stray light makes it: dense in all layers as far as the scan's rim."""
    opaque = cv2.inRange(half, tuple(float(v) for v in base + HOLDER), MOST_OF_ALL)
    rim = (opaque[0], opaque[-1], opaque[:, 0], opaque[:, -1])
    if not any(side.any() for side in rim):
        return np.zeros(opaque.shape, bool)
    _, labels = cv2.connectedComponents(opaque, connectivity=8)
    at_rim = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
    chosen = np.zeros(labels.max() + 1, bool)
    chosen[at_rim[at_rim > 0]] = True
    return chosen[labels]


def grown(area: np.ndarray, by: int) -> np.ndarray:
    """An area (h, w) bool grown by so many pixels all round."""
    return np.asarray(cv2.dilate(area.astype(np.uint8), np.ones((2 * by + 1, 2 * by + 1), np.uint8))) > 0


def _terms(y: np.ndarray, x: np.ndarray, shape: tuple[int, int]) -> np.ndarray:
    """What a surface is made of at places (n,): constant, tilts, bends, and what a lens loses at the corners (n, 7)."""
    u = (2 * x / shape[1] - 1).astype(np.float32)
    v = (2 * y / shape[0] - 1).astype(np.float32)
    return np.stack([np.ones_like(u), u, v, u * v, u * u, v * v, (u * u + v * v) ** 2], axis=-1)


def _off_surface(half: np.ndarray, film: np.ndarray, base: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Density [D] less the unexposed film's (n, 3) at places of it (n,)."""
    y, x = np.divmod(places, film.shape[1])
    laid = _terms(y + 0.5, x + 0.5, film.shape) @ _surface(half, film, base).astype(np.float32)
    return pixels_at(half, places) - laid


def _surface(half: np.ndarray, film: np.ndarray, base: np.ndarray) -> np.ndarray:
    """What the unexposed film's density [D] is made of (7, 3), by Tukey's biweight over every fourth pixel of it each way."""
    rows, columns = np.nonzero(film[::4, ::4])
    rows, columns = 4 * rows, 4 * columns
    seen, terms = half[rows, columns], _terms(rows, columns, film.shape)
    weight = (np.abs(seen - base) < NEAR).all(axis=1).astype(np.float32)
    fit = np.zeros((7, 3), np.float32)
    fit[0] = base
    for _ in range(6):
        if weight.sum() < FEWEST / 32:
            break
        weighed = terms * weight[:, None]
        fit = np.linalg.solve(weighed.T @ terms + 1e-3 * np.eye(7, dtype=np.float32), weighed.T @ seen)
        off = highest(np.abs(seen - terms @ fit)[None])[0]
        wide = max(0.015, 4.685 * 1.4826 * float(np.median(off[weight > 0])))
        weight = np.where(off < wide, (1 - (off / wide) ** 2) ** 2, 0).astype(np.float32)
    return fit


def _smoothed(away: np.ndarray, film: np.ndarray, places: np.ndarray) -> np.ndarray:
    """The mean (h, w, 3) over the film (h, w) bool, whose `places` (n,) hold `away` (n, 3), of 3 × 3 pixels; 0 where there is none."""
    smooth = np.zeros((*film.shape, 3), np.float32)
    smooth.reshape(-1, 3)[places] = away
    share = cv2.blur(film.astype(np.float32), (3, 3)).ravel()[places]
    mean = pixels_at(cv2.blur(smooth, (3, 3)), places)
    smooth.reshape(-1, 3)[places] = mean / np.maximum(share, np.float32(0.1))[:, None]
    return smooth


def _without_rims(
    away: np.ndarray, film: np.ndarray, rims: tuple[np.ndarray, ...]
) -> tuple[np.ndarray, np.ndarray]:
    """`away` less what goes by the distance from picture, holes and holder, and its scatter (h, w) [D] there."""
    flat = away.reshape(-1, 3)
    scatter = np.full(film.size, _scattered(flat[np.flatnonzero(film)[::23]]), np.float32)
    for rim in rims:
        if not rim.any():
            continue
        far = cv2.distanceTransform((~rim).view(np.uint8), cv2.DIST_L2, 3)
        near = np.flatnonzero(film & (far < REACH))
        at = far.ravel()[near].astype(np.uint8)
        places, counts = near[np.argsort(at, kind="stable")], np.bincount(at, minlength=REACH)
        values = pixels_at(flat, places)
        there = _rings_levelled(values, counts)
        flat[places] = values
        scatter[places] = np.maximum(scatter[places], np.repeat(there, counts))
    return away, scatter.reshape(film.shape)


def _rings_levelled(values: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """Takes off the middle of each ring's own values, which stand one ring after another (n, 3) [D]; the scatter (rings,) of each."""
    found = np.zeros(len(counts), np.float32)
    for ring, (first, count) in enumerate(zip(np.cumsum(counts) - counts, counts)):
        if count:
            own = values[first : first + count]
            told = own[:: 1 + count // TOLD]  # a view: the middle taken off `own` is off it too
            own -= medians(told)
            found[ring] = _scattered(told) if count > FEWEST / 8 else np.inf
    return found


def _scattered(away: np.ndarray) -> float:
    """Scatter [D] of the worst layer of (n, 3)."""
    return float(1.4826 * medians(np.abs(away)).max() + 5e-4)
