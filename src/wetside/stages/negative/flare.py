"""Stray light over a frame, read where no light can come through: the holder's opaque mask.

Answers: how much veiling light lies over each frame, and which densities can no longer be told? Needs an opaque
part that all frames show at the same place; without one the answer is None, and densities stay as scanned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from wetside.figures.finding import Finding
from wetside.figures.reading import Patch
from wetside.laws.image.layers import lowest
from wetside.stages.negative.working import Working

#: Thinnest reading [D] of an opaque part under flare: 6 % of the mean light is more than a scanner has (common practice).
THINNEST = 1.2
LEAST_AREA = 0.01
#: Flare under this transmittance moves a density of 2 by less than 0.01 D.
MATTERS = 2e-4
#: How far the flare inside the picture may differ from that over the holder, one standard deviation (common practice).
UNEVEN = 0.2
CEILING_ERROR = 0.05
SMALL = 240


@dataclass(frozen=True, slots=True)
class Flare:
    """Veiling light of one frame: `level` (3,) as a transmittance, `share` of the frame's mean light."""

    level: np.ndarray
    share: float

    def lifted(self, density: np.ndarray) -> np.ndarray:
        """Densities (…, 3) [D] without the veil: T = (10^−D − level) / (1 − share); light at the floor reads D 5."""
        t = (np.power(np.float32(10), -density) - self.level.astype(np.float32)) / np.float32(1 - self.share)
        return -np.log10(np.maximum(t, np.float32(1e-5)))

    def ceiling(self) -> float:
        """Density [D] at which the flare's unevenness makes an error of 0.05 D."""
        least = UNEVEN * float(self.level.max()) / (CEILING_ERROR * np.log(10))
        return float(-np.log10(least))


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
    return Flare(level, float(level.mean() / light.mean()))


def flares(frames: Sequence[Working]) -> list[Flare | None]:
    """Flare of every frame of a roll; all None unless most frames show it."""
    opaque = opaque_part(frames)
    if opaque is None:
        return [None] * len(frames)
    found = [flare_of(frame, opaque) for frame in frames]
    seen = sum(flare is not None for flare in found)
    return found if seen >= 0.8 * len(found) else [None] * len(frames)


def unveiled(frame: Working, flare: Flare | None) -> Working:
    """The frame without its flare."""
    return frame if flare is None else replace(frame, kept=flare.lifted(frame.density).astype(np.float16))


def unveiled_patch(patch: Patch, flare: Flare | None) -> Patch:
    """A patch without its frame's flare; the flare's unevenness is added to its spread."""
    if flare is None or patch.density is None or patch.spread is None:
        return patch
    density = flare.lifted(np.array(patch.density)[None])[0].astype(float)
    stray = UNEVEN * flare.level / np.power(10.0, -density) / np.log(10)
    spread = np.hypot(np.array(patch.spread), stray)
    return replace(
        patch, density=type(patch.density)(*density.tolist()), spread=type(patch.spread)(*spread.tolist())
    )


def flare_said(found: Sequence[Flare | None]) -> tuple[Finding, ...]:
    """One note for the roll: how much was subtracted, and the density above which little can be told."""
    seen = [flare for flare in found if flare is not None]
    if not seen:
        return ()
    share = float(np.median([flare.share for flare in seen]))
    ceiling = min(flare.ceiling() for flare in seen)
    return (
        Finding(
            "flare", "note", "roll",
            f"stray light over the opaque holder is subtracted; over {ceiling:.1f} D densities are uncertain by more than {CEILING_ERROR} D",
            "no light through an opaque mask", f"{share:.1%} of the mean light", "common practice",
        ),
    )  # fmt: skip
