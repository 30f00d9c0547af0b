"""Stray light over a frame, read where no light can come through: the holder's opaque mask.

Answers: how much veiling light lies over each frame, and which densities can no longer be told? Needs an opaque
part that all frames show at the same place; without one the answer is None, and densities stay as scanned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import Finding
from wetside.figures.flags import Left
from wetside.figures.reading import Flare
from wetside.laws.image.layers import chosen_pixels, lowest, medians
from wetside.stages.negative.scanner.veil import Form, Seen, forms, lost, seen_of, veil
from wetside.stages.negative.scanner.veil_off import lit_over
from wetside.stages.negative.scanner.working import Working

#: Thinnest reading [D] of an opaque part under flare: 6 % of the mean light is more than a scanner has (common practice).
THINNEST = 1.2
LEAST_AREA = 0.01
#: Stray light over this share of a frame's mean light is no scanner's: what looks opaque is dense film (common practice).
MOST_SHARE = 0.1
#: Parts of a holder lie within this [D] of the densest; a part of fewer cells tells nothing.
ALIKE, LEAST_PART = 0.7, 20
#: An opaque part of which more than this lies at a log file's darkest code tells no stray light.
MOST_AT_DARKEST = 0.1
#: Flare under this transmittance moves a density of 2 by less than 0.01 D.
MATTERS = 2e-4
#: How far the flare inside the picture may differ from that over the holder, one standard deviation, where the holder
#: shows on one side alone (common practice).
UNEVEN = 0.2
#: A veil that differs by less over a frame counts as everywhere alike.
EVEN = 0.01
#: A frame's veil is kept on at most so many cells along its longer side.
CELLS = 16
#: Frames that tell how stray light comes of light.
MOST_FOR_FORM = 8
CEILING_ERROR = 0.05
SMALL = 240
#: Pictures of colour negative seldom hold a density over this [D] (common practice).
SELDOM = 2.2


def ceiling(flare: Flare) -> float:
    """Density [D] at which the flare's unevenness makes an error of 0.05 D."""
    return float(-np.log10(flare.uneven * max(flare.level) / (CEILING_ERROR * np.log(10))))


def opaque_part(frames: Sequence[Working]) -> np.ndarray | None:
    """True where all frames are opaque (h, w) as far as the file's rim, at working size of the first.

    None under three frames or a hundredth of the area. What is dense in all pictures, skies say, does not reach the rim.
    """
    if len(frames) < 3:
        return None
    size = frames[0].kept.shape[:2]
    step = max(1, len(frames) // 16)
    looked = [frame for frame in frames[::step] if frame.kept.shape[:2] == size]
    shrink = max(1.0, max(size) / SMALL)
    small = (max(1, round(size[1] / shrink)), max(1, round(size[0] / shrink)))
    each = [cv2.resize(lowest(frame.density), small, interpolation=cv2.INTER_AREA) for frame in looked]
    votes = np.sum([one > THINNEST for one in each], axis=0)
    always = (votes >= 0.9 * len(looked)).astype(np.uint8)
    # The border of the file counts as holder, or a narrow rim would be worn away from both sides.
    worn = cv2.erode(always, np.ones((3, 3), np.uint8), borderType=cv2.BORDER_CONSTANT, borderValue=1)
    inner = darkest_at_rim(worn, np.mean(each, axis=0))
    if inner.mean() < LEAST_AREA:
        return None
    return cv2.resize(inner, (size[1], size[0]), interpolation=cv2.INTER_NEAREST) > 0


def darkest_at_rim(area: np.ndarray, density: np.ndarray) -> np.ndarray:
    """Those parts of an area (h, w) uint8 that reach the rim and are about as dense (h, w) [D] as the densest of them."""
    count, labels = cv2.connectedComponents(area, connectivity=8)
    rim = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    pixels = np.bincount(labels.ravel(), minlength=count)
    mean = np.bincount(labels.ravel(), density.ravel(), count) / np.maximum(pixels, 1)
    reach = [part for part in np.unique(rim[rim > 0]) if pixels[part] >= LEAST_PART]
    most = max((mean[part] for part in reach), default=0.0)
    return np.asarray(np.isin(labels, [p for p in reach if mean[p] > most - ALIKE]), np.uint8)


@dataclass(frozen=True)
class Shown:
    """Stray light of one frame: its `level` (3,) over the mask, the frame's mean light, the light's average share (3,) of the full
    scale, and where the light and the stray light lie."""

    level: np.ndarray
    mean: float
    average: np.ndarray | None
    seen: Seen


def light_and_mask(frame: Working, opaque: np.ndarray) -> Shown | None:
    """A frame's light and its stray light; None when its opaque part is uneven, is not the darkest, shows no light or more than
    stray light is, or lies at the file's darkest code, which holds every lesser light too.

    Stray light adds to what the sensor sees, however much light falls on the place: it is measured in codes.
    """
    if opaque.shape != frame.kept.shape[:2]:
        return None
    if (frame.mask[opaque] & int(Left.BLACK) > 0).mean() > MOST_AT_DARKEST:
        return None
    density = frame.density
    if 10.0 ** -medians(chosen_pixels(density, opaque)).min() < MATTERS / 4:
        return None
    through = np.power(np.float32(10), -density)
    average = None if frame.lit is None else frame.lit.mean(axis=(0, 1), dtype=np.float64)
    shine = through
    if frame.lit is not None:
        shine = through * lit_over((frame.lit / average).astype(np.float32), through.shape)
    inside = chosen_pixels(shine, opaque)
    level = medians(inside)
    if level.max() < MATTERS or level.mean() > MOST_SHARE * shine.mean():
        return None
    stray = medians(np.abs(inside - level))
    film = shine[..., 0][~opaque]
    if (stray > 0.3 * level + 2e-4).any() or level[0] > 1.3 * np.percentile(film, 1):
        return None
    return Shown(level, float(shine.mean()), average, seen_of(shine, opaque))


def _flare(shown: Shown, found: Sequence[Form]) -> Flare:
    """The flare as the roll's forms spread it over a frame; everywhere alike where none is told."""
    light = None if shown.average is None else rgb(shown.average)
    if not found:
        return _with_ceiling(
            Flare(rgb(shown.level), float(shown.level.mean() / shown.mean), None, UNEVEN, light)
        )
    over, spread = veil(shown.seen, found)
    film = shown.seen.film
    level = over[film].mean(axis=0)
    uneven = float(np.sqrt(((spread[film] / over[film]) ** 2).mean()))
    if not any(shown.seen.both_ways()):
        uneven = float(np.hypot(uneven, UNEVEN))
    share, unsure = lost(found)
    cells = () if np.abs(over / level - 1).max() < EVEN else _cells(over / level)
    return _with_ceiling(Flare(rgb(level), share, None, uneven, light, cells, unsure))


def _with_ceiling(flare: Flare) -> Flare:
    return replace(flare, ceiling=ceiling(flare))


def _cells(over: np.ndarray) -> tuple[tuple[RGB, ...], ...]:
    """A veil's shares (h, w, 3) on at most CELLS cells along the longer side."""
    few = max(over.shape[:2]) / CELLS
    size = (max(1, round(over.shape[1] / few)), max(1, round(over.shape[0] / few)))
    small = cv2.resize(over.astype(np.float32), size, interpolation=cv2.INTER_AREA).round(3)
    return tuple(tuple(rgb(cell) for cell in row) for row in small)


def flares(frames: Sequence[Working]) -> list[Flare | None]:
    """Flare of every frame of a roll; all None unless most frames show it."""
    opaque = opaque_part(frames)
    if opaque is None:
        return [None] * len(frames)
    shown = [light_and_mask(frame, opaque) for frame in frames]
    told = [one for one in shown if one is not None]
    if len(told) < 0.8 * len(shown):
        return [None] * len(shown)
    found = forms([one.seen for one in told[:: -(-len(told) // MOST_FOR_FORM)]])
    return [None if one is None else _flare(one, found) for one in shown]


def flare_said(found: Sequence[Flare | None]) -> tuple[Finding, ...]:
    """One note for the roll: how much was subtracted, and the density above which little can be told."""
    seen = [flare for flare in found if flare is not None]
    if not seen:
        return ()
    share = float(np.median([flare.share for flare in seen]))
    top = min(ceiling(flare) for flare in seen)
    say = (
        f"a little stray light is subtracted: under {CEILING_ERROR} D is left of it up to {SELDOM:.1f} D"
        if top >= SELDOM
        else f"stray light over the opaque holder is subtracted; over {top:.1f} D densities are uncertain by more than {CEILING_ERROR} D"
    )
    return (
        Finding(
            "flare", "note", "roll", say, "no light through an opaque mask", f"{100 * share:.1f} % of the mean light", "common practice",
        ),
    )  # fmt: skip
