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
from wetside.figures.reading import Flare
from wetside.laws.image.layers import lowest
from wetside.laws.sensitometry.density import density_without_flare
from wetside.stages.negative.working import Working, in_steps

#: Thinnest reading [D] of an opaque part under flare: 6 % of the mean light is more than a scanner has (common practice).
THINNEST = 1.2
LEAST_AREA = 0.01
#: Flare under this transmittance moves a density of 2 by less than 0.01 D.
MATTERS = 2e-4
#: How far the flare inside the picture may differ from that over the holder, one standard deviation (common practice).
UNEVEN = 0.2
CEILING_ERROR = 0.05
SMALL = 240
#: Pictures of colour negative seldom hold a density over this [D] (common practice).
SELDOM = 2.2


def ceiling(flare: Flare) -> float:
    """Density [D] at which the flare's unevenness makes an error of 0.05 D."""
    return float(-np.log10(UNEVEN * max(flare.level) / (CEILING_ERROR * np.log(10))))


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
    """Flare of one frame from its opaque part; None when that part is uneven, is not the darkest, or shows no light."""
    if opaque.shape != frame.kept.shape[:2]:
        return None
    light = np.power(10.0, -frame.density.astype(np.float64))
    inside = light[opaque]
    level = np.median(inside, axis=0)
    if level.max() < MATTERS:
        return None
    stray = np.median(np.abs(inside - level), axis=0)
    film = light[~opaque]
    if (stray > 0.3 * level + 2e-4).any() or (level[0] > 1.3 * np.percentile(film[:, 0], 1)):
        return None
    found = Flare(rgb(level), float(level.mean() / light.mean()))
    return replace(found, ceiling=ceiling(found))


def flares(frames: Sequence[Working]) -> list[Flare | None]:
    """Flare of every frame of a roll; all None unless most frames show it."""
    opaque = opaque_part(frames)
    if opaque is None:
        return [None] * len(frames)
    found = [flare_of(frame, opaque) for frame in frames]
    seen = sum(flare is not None for flare in found)
    return found if seen >= 0.8 * len(found) else [None] * len(frames)


def lifted(density: np.ndarray, flare: Flare) -> np.ndarray:
    """Densities (…, 3) [D] without a frame's flare."""
    return density_without_flare(density, np.array(flare.level), flare.share)


def unveiled(frame: Working, flare: Flare | None) -> Working:
    """The frame without its flare."""
    return frame if flare is None else replace(frame, kept=in_steps(lifted(frame.density, flare)))


def veil_spread(density: np.ndarray, flare: Flare) -> np.ndarray:
    """What the flare's unevenness adds to the spread (3,) [D] of a density freed of it."""
    return UNEVEN * np.array(flare.level) / np.power(10.0, -density) / np.log(10)


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
