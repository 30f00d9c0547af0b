"""A spot as its roll has it: stray light and exposure taken off, counted from the base, one spread made of every cause.

The roll's reading and a spot picked later on the glass both come through here, so that they say the same.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.reading import Flare
from wetside.figures.spread import NONE, Spread
from wetside.laws.sensitometry.noise import Noise
from wetside.stages.negative.measured.patches import Spot, with_noise
from wetside.stages.negative.scanner.fall_off import FallOff
from wetside.stages.negative.scanner.light import UNTOLD
from wetside.stages.negative.scanner.veil_off import contrast_lost, lifted, veil_spread


@dataclass(frozen=True)
class Standing:
    """What one frame's densities stand on.

    counts_from  "camera" (against the open gate), "above base", or "none": no density can be said
    flare        stray light of the frame; shift [D]: how much denser than the roll it was scanned
    base         of this frame [D], and how well it is known; light [D]: how steady the light is from scan to scan
    fall         the light's fall-off where no open gate was scanned; lit: an open gate was
    noise        of the scanner
    """

    counts_from: str
    flare: Flare | None = None
    shift: float = 0.0
    base: RGB | None = None
    base_spread: RGB = NONE
    light: RGB | None = None
    fall: FallOff | None = None
    lit: bool = False
    noise: Noise | None = None


def reckoned(seen: Spot, at: Standing, centre: tuple[float, float], size: tuple[int, int]) -> Spot:
    """A spot with its centre and its frame's size in pixels; without a density where its frame carries none."""
    if seen.density is None or seen.parts is None:
        return seen
    if at.counts_from == "none" or (at.counts_from == "above base" and at.base is None):
        return Spot(None, None, "no base to count from, and no open gate")
    seen = with_noise(seen, at.noise)
    density, parts = np.array(seen.density), seen.parts or Spread()
    if at.flare is not None:
        light = None if seen.sampled is None else seen.sampled.share
        here = np.array(centre[0] / size[0]), np.array(centre[1] / size[1])
        density = lifted(density, at.flare, light, here).astype(float)
        more = contrast_lost(density, at.flare, light, here)
        veil = rgb(veil_spread(density, at.flare, light, here))
        parts = replace(parts, mean=rgb(np.array(parts.mean) * more), veil=veil)
    if at.counts_from == "camera":
        parts = replace(parts, light=at.light or parts.light)
        if at.shift:
            parts = replace(parts, base=at.base_spread)
        density = density - at.shift
    elif at.base is not None:
        away = np.zeros(3) if at.fall is None else at.fall.at(*centre, *size)
        unsure = np.full(3, 0.0 if at.lit else UNTOLD)
        if at.fall is not None:
            unsure = at.fall.spread_at(*centre, *size)
        density = density - np.array(at.base) - away
        # The same scan shows the base, so the light's change from scan to scan falls out of the difference.
        parts = replace(parts, light=NONE, base=at.base_spread, fall_off=rgb(unsure))
    return replace(seen, density=rgb(density), spread=parts.whole(), parts=parts)
