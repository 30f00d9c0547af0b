"""Stray light over a frame, read where no light can come through: the holder's opaque mask.

Answers: how much veiling light lies over each frame, and which densities can no longer be told? Needs an opaque
part that all frames show at the same place; without one the answer is None, and densities stay as scanned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.finding import Finding
from wetside.figures.reading import Base, Flare
from wetside.laws.image.layers import chosen_pixels, lowest, medians
from wetside.laws.sensitometry.density import density_without_flare
from wetside.stages.negative.working import Working, in_steps

#: Thinnest reading [D] of an opaque part under flare: 6 % of the mean light is more than a scanner has (common practice).
THINNEST = 1.2
LEAST_AREA = 0.01
#: Flare under this transmittance moves a density of 2 by less than 0.01 D.
MATTERS = 2e-4
#: How far the flare inside the picture may differ from that over the holder, one standard deviation, where the holder
#: shows on one side alone, and at the least (common practice).
UNEVEN, LEAST_UNEVEN = 0.2, 0.05
CEILING_ERROR = 0.05
SMALL = 240
#: Pictures of colour negative seldom hold a density over this [D] (common practice).
SELDOM = 2.2


def ceiling(flare: Flare) -> float:
    """Density [D] at which the flare's unevenness makes an error of 0.05 D."""
    return float(-np.log10(flare.uneven * max(flare.level) / (CEILING_ERROR * np.log(10))))


def opaque_part(frames: Sequence[Working]) -> np.ndarray | None:
    """True where all frames are opaque (h, w), at working size of the first; None under three frames or a hundredth of the area."""
    if len(frames) < 3:
        return None
    size = frames[0].kept.shape[:2]
    step = max(1, len(frames) // 16)
    looked = [frame for frame in frames[::step] if frame.kept.shape[:2] == size]
    shrink = max(1.0, max(size) / SMALL)
    small = (max(1, round(size[1] / shrink)), max(1, round(size[0] / shrink)))
    votes = np.zeros(small[::-1], np.int32)
    for frame in looked:
        votes += cv2.resize(lowest(frame.density), small, interpolation=cv2.INTER_AREA) > THINNEST
    always = (votes >= 0.9 * len(looked)).astype(np.uint8)
    kernel = np.ones((3, 3), np.uint8)
    # The border of the file counts as holder, or a narrow rim would be worn away from both sides.
    inner = cv2.erode(always, kernel, borderType=cv2.BORDER_CONSTANT, borderValue=1)
    if inner.mean() < LEAST_AREA:
        return None
    return cv2.resize(inner, (size[1], size[0]), interpolation=cv2.INTER_NEAREST) > 0


def flare_of(frame: Working, opaque: np.ndarray) -> Flare | None:
    """Flare of one frame from its opaque part; None when that part is uneven, is not the darkest, or shows no light.

    Stray light adds to what the sensor sees, however much light falls on the place: it is measured in codes.
    """
    if opaque.shape != frame.kept.shape[:2]:
        return None
    density = frame.density
    if 10.0 ** -medians(chosen_pixels(density, opaque)).min() < MATTERS / 4:
        return None
    through = np.power(np.float32(10), -density)
    average = None if frame.lit is None else frame.lit.mean(axis=(0, 1), dtype=np.float64)
    shine = through
    if frame.lit is not None:
        shine = through * _over((frame.lit / average).astype(np.float32), through.shape)
    inside = chosen_pixels(shine, opaque)
    level = medians(inside)
    if level.max() < MATTERS:
        return None
    stray = medians(np.abs(inside - level))
    film = shine[..., 0][~opaque]
    if (stray > 0.3 * level + 2e-4).any() or level[0] > 1.3 * np.percentile(film, 1):
        return None
    share = float(level.mean() / shine.mean())
    found = Flare(rgb(level), share, None, _uneven(shine, opaque), None if average is None else rgb(average))
    return replace(found, ceiling=ceiling(found))


def _over(lit: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    """The light's share (h, w, 3) over a frame."""
    return cv2.resize(lit, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)


def _uneven(shine: np.ndarray, opaque: np.ndarray) -> float:
    """How much of the stray light may be more or less over the picture: as much as its parts on opposite sides of the
    frame differ, LEAST_UNEVEN at the least; UNEVEN where the holder shows on one side alone."""
    height, width = opaque.shape
    sides = [opaque.copy() for _ in range(4)]
    sides[0][height // 3 :], sides[1][: -(height // 3)] = False, False
    sides[2][:, width // 3 :], sides[3][:, : -(width // 3)] = False, False
    seen = [None if part.sum() < 60 else medians(chosen_pixels(shine, part)) for part in sides]
    pairs = [(a, b) for a, b in (seen[:2], seen[2:]) if a is not None and b is not None]
    if not pairs:
        return UNEVEN
    apart = max(float((np.abs(a - b) / (a + b)).max()) for a, b in pairs)
    return max(LEAST_UNEVEN, 2 * apart)


def flares(frames: Sequence[Working]) -> list[Flare | None]:
    """Flare of every frame of a roll; all None unless most frames show it."""
    opaque = opaque_part(frames)
    if opaque is None:
        return [None] * len(frames)
    found = [flare_of(frame, opaque) for frame in frames]
    seen = sum(flare is not None for flare in found)
    return found if seen >= 0.8 * len(found) else [None] * len(frames)


def level_at(flare: Flare, light: np.ndarray | None) -> np.ndarray:
    """The flare as a transmittance (…, 3) where the light has a share (…, 3) of the full scale."""
    level = np.array(flare.level)
    return level if light is None or flare.light is None else level * np.array(flare.light) / light


def lifted(density: np.ndarray, flare: Flare, light: np.ndarray | None = None) -> np.ndarray:
    """Densities (…, 3) [D] without a frame's flare; `light` (…, 3): its share of the full scale there, where known."""
    return density_without_flare(density, level_at(flare, light), flare.share)


def unveiled(frame: Working, flare: Flare | None) -> Working:
    """The frame without its flare."""
    if flare is None:
        return frame
    light = None if frame.lit is None else _over(frame.lit, frame.kept.shape)
    return replace(frame, kept=in_steps(lifted(frame.density, flare, light)))


def veil_spread(density: np.ndarray, flare: Flare, light: np.ndarray | None = None) -> np.ndarray:
    """What the flare's unevenness adds to the spread (3,) [D] of a density freed of it."""
    return flare.uneven * level_at(flare, light) / np.power(10.0, -density) / np.log(10)


def base_unveiled(base: Base | None, found: Sequence[Flare | None]) -> Base | None:
    """The roll's base with what its frames' stray light leaves in its spread."""
    seen = [flare for flare in found if flare is not None]
    if base is None or not seen:
        return base
    veil = np.median([veil_spread(np.array(base.density), flare) for flare in seen], axis=0)
    return replace(base, spread=rgb(np.hypot(np.array(base.spread), veil)))


def contrast_lost(density: np.ndarray, flare: Flare, light: np.ndarray | None = None) -> np.ndarray:
    """By how much (3,) an error grows when the flare is taken off: light seen over light that came through the film.

    density     (3,) [D], freed of the flare
    """
    through = (1 - flare.share) * np.power(10.0, -density)
    return (through + level_at(flare, light)) / through


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
            "flare", "note", "roll", say, "no light through an opaque mask", f"{share:.1%} of the mean light", "common practice",
        ),
    )  # fmt: skip
