"""The scanner's noise in two figures from the scans themselves, the film's grain told apart from it.

Answers: how much would a pixel scatter if the same film were scanned again? Blocks of a scan are asked how much
neighbouring pixels differ once slopes and bends are taken out; the quietest blocks of each level hold noise and grain
alone. Read noise stays, shot noise grows with the light, and grain, a density, with the light's square times the
density (Siedentopf's law), so a level from bright to dark parts them. Needs linear scans; pixels that a program has
smoothed or sharpened show less or more than the scanner's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from wetside.figures.channels import RGB, rgb
from wetside.figures.scan import Scan
from wetside.laws.sensitometry.noise import Noise

BLOCK = 12
#: Rows of blocks looked into of one scan, and blocks kept of it.
STRIPS, KEPT = 40, 1500
#: The second difference both ways, [1 −2 1]ᵀ [1 −2 1], has 36 times the variance of white noise.
GAIN = 36.0
#: A block that shows over so many times the noise expected at its level holds picture too.
QUIET = 1.5
#: A fit needs so many quiet blocks, and brightest over darkest by so much.
FEWEST, RANGE = 60, 4.0


@dataclass(frozen=True)
class NoiseOfRoll:
    """`noise` in codes of full scale `white`, and `grain` [D]: what the film adds to a pixel at 1 D under the brightest, at most."""

    noise: Noise
    grain: RGB
    white: float

    def as_json(self) -> dict[str, object]:
        return {"read": rgb(self.noise.read).as_json(), "shot": rgb(self.noise.shot).as_json(),
                "grain": self.grain.as_json(), "full_scale": self.white}  # fmt: skip


def noise_blocks(scan: Scan, dark: float = 0.0) -> np.ndarray:
    """Rows (n, 2, 3): signal and variance [codes, codes²] of blocks of one scan, at most KEPT of them."""
    step = max(BLOCK, scan.height // STRIPS // BLOCK * BLOCK)
    found = [_strip(scan, first) for first in range(0, scan.height - BLOCK + 1, step)]
    blocks = np.concatenate(found) if found else np.empty((0, 2, 3))
    blocks[:, 0] -= dark
    return blocks[:: max(1, -(-len(blocks) // KEPT))].astype(np.float32)


def _strip(scan: Scan, first: int) -> np.ndarray:
    """Rows (n, 2, 3) of a strip of blocks that nowhere touch white or black."""
    count = scan.width // BLOCK
    if count == 0:
        return np.empty((0, 2, 3))
    strip = scan.pixels[first : first + BLOCK, : count * BLOCK].astype(np.float32)
    cut = strip.reshape(BLOCK, count, BLOCK, 3)
    bent = cut[:-2] - 2 * cut[1:-1] + cut[2:]
    bent = bent[:, :, :-2] - 2 * bent[:, :, 1:-1] + bent[:, :, 2:]
    inside = (cut.max(axis=(0, 2, 3)) < 0.999 * scan.full_scale) & (cut.min(axis=(0, 2, 3)) > 0)
    both = np.stack([cut.mean(axis=(0, 2)), (bent * bent).mean(axis=(0, 2)) / GAIN], axis=1)
    return both[inside].astype(np.float64)


def noise_of_scans(blocks: Sequence[np.ndarray], white: float) -> NoiseOfRoll | None:
    """The two figures from the blocks of a roll's scans; None where too few are quiet or all are of one level."""
    rows = np.concatenate(blocks).astype(np.float64) if len(blocks) else np.empty((0, 2, 3))
    fits = [_fitted(rows[:, 0, layer], rows[:, 1, layer]) for layer in range(3)]
    found = np.array([fit for fit in fits if fit is not None])
    if len(found) < 3:
        return None
    grain = np.sqrt(1.1 * found[:, 2]) / np.log(10)
    return NoiseOfRoll(Noise(np.sqrt(found[:, 0]), found[:, 1]), rgb(grain), white)


def _fitted(signal: np.ndarray, variance: np.ndarray) -> np.ndarray | None:
    """Read² [codes²], shot [codes] and grain's factor of one layer: first through the quietest of each level, then again
    through all blocks that lie no further over that than noise does."""
    bright = signal > 1
    signal, variance = signal[bright], np.maximum(variance[bright], 1e-6)
    if len(signal) < FEWEST:
        return None
    design = np.stack([np.ones_like(signal), signal, signal**2 * (np.log10(signal.max() / signal) + 0.1)], 1)
    level = np.floor(2 * np.log2(signal))
    quiet = np.zeros(len(signal), bool)
    for one in np.unique(level):
        here = np.flatnonzero(level == one)
        quiet[here[variance[here] <= np.percentile(variance[here], 20)]] = True
    found: np.ndarray | None = None
    for _ in range(6):
        if quiet.sum() < FEWEST or np.ptp(np.log10(signal[quiet])) < np.log10(RANGE):
            return found
        expected = variance if found is None else design @ found
        rows = design[quiet] / expected[quiet, None]
        scale = np.linalg.norm(rows, axis=0)
        found = nnls(rows / scale, variance[quiet] / expected[quiet])[0] / scale
        expected = np.maximum(design @ found, 1e-6)
        quiet = (variance < QUIET * expected) & (variance > expected / QUIET)
    return found
