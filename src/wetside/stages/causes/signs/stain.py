"""Whether a mark is a stain that can be taken off: one that adds on the unexposed film what it adds in the picture.

Theory. A stain lies on the film and adds its density whatever is under it; uneven development scales what is under it
and adds nothing to the unexposed film. So a mark that reaches over the picture's rim is measured twice: on the rebate,
which is flat, and round its outline in the picture. Where both agree, the rebate's figure is subtracted, by the mark's
own soft outline; nothing of what lies under it is made up. Where they do not, or the mark stays inside the picture,
nothing is touched.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import CannotSay
from wetside.figures.place import Rectangle
from wetside.figures.stain import Stain
from wetside.laws.image.least_change import FREE, IN, OUT, least_change, whitening

#: Least size of a step that is told from the rebate's own unevenness [D].
SMALLEST = 0.02
#: Fewest pixels of the stained rebate, and of the rebate beside it.
FEWEST = 24
#: Longest side of the crop in which the outline is cut, in pixels.
COARSE = 120
#: The two figures agree within 2.5 spreads of what the picture shows and this share of the stain.
AGREE = 0.1
#: What the picture shows must be known to this share of the stain, at two spreads.
KNOWN = 0.4
#: Least step in units of the picture's own change over three pixels: under it the outline was wrong on planted stains.
CLEAR = 4.0
#: Least density of the picture above base, its layers' mean [D], at which a stain can be told from a change that grows with density.
THICK = 0.25
DRAW = "draw it as far as the rebate, or scan so that the rebate beside it is in the picture"


@dataclass(frozen=True)
class Looked:
    """A piece of a frame round a mark: density (h, w, 3) [D], `picture` and `mark` in its pixels, where it lies in the frame.

    film        (h, w) bool, the film outside the picture: neither a perforation nor the holder
    """

    density: np.ndarray
    picture: Rectangle
    mark: Rectangle
    film: np.ndarray
    left: int
    top: int
    shrink: float


def stain_at(
    density: np.ndarray, shrink: float, picture: Rectangle, base: RGB, mark: Rectangle
) -> Stain | CannotSay:
    """The stain at a mark of a frame, or why nothing can be taken off there.

    density (h, w, 3) [D] of the frame, stray light taken off, `shrink` pixels of the file a pixel; `picture` and `mark`
    in pixels of the file; `base` of the unexposed film in the same reference.
    """
    look = _looked(density, shrink, picture, np.array(base), mark)
    refused = _scratch(look)
    if refused is not None:
        return refused
    shown = _on_film(look)
    if isinstance(shown, CannotSay):
        return shown
    stained, near, step, spread = shown
    small, known = _coarse(look, stained, near)
    ground = _ground(small)
    white = whitening(small.density, ground)
    if np.linalg.norm(white @ step) < CLEAR:
        return CannotSay(
            "it is too faint against what the picture does there for its outline to be told",
            "the same splash on an even part of the film",
        )
    area = least_change(small.density, step, _known(small, known), ground)
    joined = cv2.morphologyEx(area.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((5, 5), np.uint8)) > 0
    weight, sharp = _soft(look, _touching(joined, known == IN), _way(white, step))
    steps, under = _steps(look, weight, sharp)
    share = _share(
        steps @ white,
        white @ step,
        float((np.median(under, axis=0) - np.array(base)).mean()) if len(under) else 0.0,
    )
    if isinstance(share, CannotSay):
        return share
    box = Rectangle(round(look.left * shrink), round(look.top * shrink),
                    round(weight.shape[1] * shrink), round(weight.shape[0] * shrink))  # fmt: skip
    return Stain(box, mark, np.round(weight * 255).astype(np.uint8), rgb(step), rgb(spread), *share)


def _looked(
    density: np.ndarray, shrink: float, picture: Rectangle, base: np.ndarray, mark: Rectangle
) -> Looked:
    """The mark's surroundings: half its size and a little more all round."""
    x, y, w, h = (v / shrink for v in mark)
    pad = 0.6 * max(w, h) + 8
    height, width = density.shape[:2]
    left, top = max(0, int(x - pad)), max(0, int(y - pad))
    right, bottom = min(width, int(x + w + pad) + 1), min(height, int(y + h + pad) + 1)
    piece = np.ascontiguousarray(density[top:bottom, left:right], np.float32)
    inside = Rectangle(
        round(picture.x / shrink) - left,
        round(picture.y / shrink) - top,
        round(picture.w / shrink),
        round(picture.h / shrink),
    )
    own = Rectangle(round(x) - left, round(y) - top, max(1, round(w)), max(1, round(h)))
    film = np.ones(piece.shape[:2], bool)
    rim = 2
    film[
        max(0, inside.y - rim) : max(0, inside.y + inside.h + rim),
        max(0, inside.x - rim) : max(0, inside.x + inside.w + rim),
    ] = False
    away = piece - base.astype(np.float32)
    no_film = np.asarray((away < -0.12).all(axis=2) | (away > 1.0).any(axis=2)).astype(np.uint8)
    film &= np.asarray(cv2.dilate(no_film, np.ones((5, 5), np.uint8))) == 0
    return Looked(piece, inside, own, film, left, top, shrink)


def _scratch(look: Looked) -> CannotSay | None:
    long, short = max(look.mark.w, look.mark.h), min(look.mark.w, look.mark.h)
    if short <= 4 and long > 4 * short:
        return CannotSay(
            "it is as thin as a scratch: what lay under it is gone or scattered, not covered",
            "nothing; wet scanning hides a scratch of the base side",
        )
    return None


def _on_film(look: Looked) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray] | CannotSay:
    """What the mark does on the unexposed film: stained and clean rebate (h, w) bool, the step and its spread (3,) [D]."""
    grown = _grown(look.mark, 0.25)
    inside = np.zeros(look.film.shape, bool)
    inside[grown.clipped_to(look.film.shape[1], look.film.shape[0]).slices] = True
    close, beside = look.film & inside, look.film & ~inside
    if close.sum() < FEWEST or not _at_rim(look):
        return CannotSay(
            "it lies in the picture alone: whether it adds or scales with what is under it cannot be told",
            DRAW,
        )
    if beside.sum() < FEWEST:
        return CannotSay("no clean rebate is seen beside it", "a scan with more of the rebate")
    clean = np.median(look.density[beside], axis=0)
    smooth = cv2.GaussianBlur(look.density, (0, 0), 1.0)
    own = smooth[beside] - clean
    noise = 1.4826 * np.median(np.abs(own), axis=0) + 1e-4
    away = np.abs(smooth - clean)
    out = close & (away > np.maximum(SMALLEST, 5 * noise)).any(axis=2)
    if out.sum() < FEWEST:
        return CannotSay(
            "the unexposed film beside it shows no difference: what it does grows with density, so no one density can be subtracted",
            "the mid-tones can be corrected in grading, by eye",
        )
    step = np.median(smooth[out], axis=0) - clean
    along = (smooth - clean) @ (step / float(step @ step))
    core, rest = (
        look.film & (along > 0.8) & _touching(look.film & (along > 0.5), out),
        beside & (np.abs(along) < 0.25),
    )
    if core.sum() < FEWEST or rest.sum() < FEWEST:
        return CannotSay("too little of the rebate is stained to be measured", DRAW)
    clean = np.median(look.density[rest], axis=0)
    step = np.median(look.density[core], axis=0) - clean
    spread = np.hypot(_scatter(smooth[core]), _scatter(smooth[rest]))
    if (step < -np.maximum(2 * spread, SMALLEST / 2)).any():
        return CannotSay(
            "it takes density away from the unexposed film: a stain adds",
            "nothing: what was there is not on the film any more",
        )
    stained = look.film & (along > 0.5) & _touching(look.film & (along > 0.5), out)
    return stained, look.film & ~stained & (along < 0.3), step.astype(np.float64), spread.astype(np.float64)


def _at_rim(look: Looked) -> bool:
    """Whether the mark reaches the picture's rim, as well as a mark's box is known."""
    own, all_ = look.mark, look.picture
    slack = 3 + 0.08 * max(own.w, own.h)
    rights = own.x + own.w - all_.x - all_.w, own.y + own.h - all_.y - all_.h
    return min(own.x - all_.x, own.y - all_.y, -rights[0], -rights[1]) <= slack


def _grown(box: Rectangle, share: float) -> Rectangle:
    pad = round(share * max(box.w, box.h)) + 4
    return Rectangle(box.x - pad, box.y - pad, box.w + 2 * pad, box.h + 2 * pad)


def _touching(area: np.ndarray, seed: np.ndarray) -> np.ndarray:
    """The parts of an area that hold a pixel of `seed`."""
    _, labels = cv2.connectedComponents(area.astype(np.uint8), connectivity=8)
    wanted = np.unique(labels[seed & area])
    found: np.ndarray = np.isin(labels, wanted[wanted > 0])
    return found


def _scatter(values: np.ndarray) -> np.ndarray:
    found: np.ndarray = 1.4826 * np.median(np.abs(values - np.median(values, axis=0)), axis=0)
    return found


def _coarse(look: Looked, stained: np.ndarray, near: np.ndarray) -> tuple[Looked, np.ndarray]:
    """The piece at the size at which its outline is cut, and what of it is known: 1 stained film, 0 clean film, −1 free."""
    height, width = look.film.shape
    factor = max(1.0, max(height, width) / COARSE)
    size = (max(8, round(width / factor)), max(8, round(height / factor)))
    density = cv2.resize(look.density, size, interpolation=cv2.INTER_AREA)
    known = np.full(density.shape[:2], FREE, np.int8)
    for mask, value in ((near, OUT), (stained, IN)):
        share = cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        known[share > 0.9] = value
    mark, picture = (Rectangle(*(round(v / factor) for v in box)) for box in (look.mark, look.picture))
    film = cv2.resize(look.film.astype(np.float32), size, interpolation=cv2.INTER_AREA) > 0.99
    return replace(look, density=density, mark=mark, picture=picture, film=film), known


def _ground(look: Looked) -> np.ndarray:
    """What lies where in a piece (h, w) uint8: 1 picture, 2 unexposed film, 0 neither or too near to the rim to tell."""
    found = 2 * look.film.astype(np.uint8)
    x, y, w, h = look.picture
    found[max(0, y + 2) : max(0, y + h - 2), max(0, x + 2) : max(0, x + w - 2)] = 1
    return found


def _known(small: Looked, known: np.ndarray) -> np.ndarray:
    """Nothing lies at the piece's own rim or far from the mark, where the film does not show it."""
    far = np.ones(known.shape, bool)
    far[_grown(small.mark, 0.3).clipped_to(known.shape[1], known.shape[0]).slices] = False
    known[far & (known == FREE)] = OUT
    return known


def _soft(look: Looked, area: np.ndarray, way: np.ndarray) -> tuple[np.ndarray, float]:
    """Weight (h, w) 0…1 of the stain, soft as its own edge is, and how many pixels wide that edge is (one spread)."""
    from scipy.special import ndtr

    height, width = look.film.shape
    grown = cv2.resize(area.astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC)
    away = _distance(cv2.GaussianBlur(grown, (0, 0), max(1.0, 0.7 * width / area.shape[1])) > 0.5)
    reach = max(4, min(30, int(0.6 * away.max())))
    rows = _across(look, away, np.arange(-reach, reach + 1), way)
    shift, sharp = _edge(rows) if len(rows) else (0.0, 1.0)
    weight: np.ndarray = ndtr((away - shift) / sharp).astype(np.float32)
    return weight, sharp


def _distance(inside: np.ndarray) -> np.ndarray:
    """Distance from an area's outline [px], positive inside; the piece's own rim is no outline."""
    framed = cv2.copyMakeBorder(inside.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    away = cv2.distanceTransform(framed, cv2.DIST_L2, 5) - cv2.distanceTransform(1 - framed, cv2.DIST_L2, 5)
    found: np.ndarray = away[1:-1, 1:-1] - np.where(inside, 0.5, -0.5).astype(np.float32)
    return found


def _along_normals(look: Looked, away: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Densities (n, len(at), 3) along the normals of an outline at distances `at` from it, and which lie in the picture.

    A normal that leaves the piece, or crosses the picture's rim, is left out.
    """
    inside = away > 0
    outlines, _ = cv2.findContours(inside.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    points = np.concatenate([line[:, 0, :] for line in outlines]) if outlines else np.zeros((0, 2), np.int32)
    smooth = cv2.GaussianBlur(away, (0, 0), 2.0)
    slope = np.stack([cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)], axis=-1)
    normal = slope[points[:, 1], points[:, 0]]
    normal /= np.linalg.norm(normal, axis=1, keepdims=True) + 1e-9
    places = (points[:, None, :] + normal[:, None, :] * at[None, :, None]).astype(np.float32)
    within = ((places >= 0) & (places <= np.array([away.shape[1] - 1, away.shape[0] - 1]))).all(axis=(1, 2))
    places = places[within]
    if not len(places):
        return np.zeros((0, len(at), 3)), np.zeros(0, bool)
    ground = _ground(look)
    on = ground[places[..., 1].round().astype(int), places[..., 0].round().astype(int)]
    one = (on == on[:, :1]).all(axis=1) & (on[:, 0] > 0)
    values = cv2.remap(look.density, places[one][..., 0], places[one][..., 1], cv2.INTER_LINEAR)
    return values.astype(np.float64), on[one, 0] == 1


def _across(look: Looked, away: np.ndarray, at: np.ndarray, way: np.ndarray) -> np.ndarray:
    """Profiles (n, len(at)) across an outline in a mixture of layers, each less its own mean."""
    values, _ = _along_normals(look, away, at)
    along = values @ way
    found: np.ndarray = along - along.mean(axis=1, keepdims=True) if len(along) else along
    return found


def _edge(rows: np.ndarray) -> tuple[float, float]:
    """Where the edge lies from the outline and its spread [px]: the error function on a slope nearest to the middle profile."""
    from scipy.special import ndtr

    reach = rows.shape[1] // 2
    at = np.arange(-reach, reach + 1)
    profile = np.median(rows, axis=0)
    best, found = np.inf, (0.0, 1.0)
    for sharp in np.geomspace(0.5, max(1.0, reach / 2.5), 14):
        for shift in np.linspace(-reach / 2, reach / 2, 4 * reach + 1):
            shape = ndtr((at - shift) / sharp)
            # One step in all: the height is not free, else any slope of the picture is taken for a soft edge.
            rest = profile - shape
            rest = rest - np.polyval(np.polyfit(at, rest, 1), at)
            left = float(rest @ rest)
            if left < best:
                best, found = left, (float(shift), float(sharp))
    return found


def _steps(look: Looked, weight: np.ndarray, sharp: float) -> tuple[np.ndarray, np.ndarray]:
    """Steps (n, 3) [D] across the outline within the picture, along its normals, clear of the soft edge; and what lies outside."""
    clear = 2.2 * sharp + 1.5
    values, inside = _along_normals(look, _distance(weight > 0.5), np.array([clear, 0.0, -clear]))
    return values[inside, 0] - values[inside, 2], values[inside, 2]


def _way(white: np.ndarray, step: np.ndarray) -> np.ndarray:
    """The mixture of layers (3,) in which the step is 1 and the picture's own change least."""
    own = white @ step
    found: np.ndarray = white @ own / float(own @ own)
    return found


def _share(steps: np.ndarray, whole: np.ndarray, under: float) -> tuple[float, float] | CannotSay:
    """How much of the step the picture shows and the spread of that, from steps (n, 3) and the step, both whitened.

    under       density above base of the picture round the stain, its layers' mean [D]
    """
    if len(steps) < FEWEST:
        return CannotSay("too little of its outline lies in the picture to be measured there", DRAW)
    if under < THICK:
        return CannotSay(
            f"the picture round it is nearly as thin as unexposed film ({under:.2f} D above it): adding and scaling look alike there",
            "the same splash on a denser part of the film",
        )
    size = float(np.linalg.norm(whole))
    middle = np.median(steps, axis=0)
    # Steps twelve pixels apart count as one: the picture under them is alike.
    doubt = 1.4826 * np.median(np.abs(steps - middle), axis=0) * 1.2533 / np.sqrt(max(1.0, len(steps) / 12))
    share, own = float(middle @ whole) / size**2, float(np.linalg.norm(doubt * whole)) / size**2
    if 2 * own > KNOWN:
        return CannotSay(f"the picture under it is too busy: it shows {share:.2f} ± {own:.2f} of what the unexposed film shows",
                         "the same splash on an even part of the film")  # fmt: skip
    if (np.abs(middle - whole) > 2.5 * doubt + AGREE * size).any():
        return CannotSay(f"the picture shows {share:.2f} ± {own:.2f} of what the unexposed film shows, or another colour of it: "
                         "not one density added everywhere, so nothing can be subtracted", "the mid-tones can be corrected in grading, by eye")  # fmt: skip
    return share, own
