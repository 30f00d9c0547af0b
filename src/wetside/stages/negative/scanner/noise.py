"""The scanner's noise in two figures from the scans themselves, the film's grain told apart from it.

Answers: how much would a pixel scatter if the same film were scanned again? Blocks of a scan are asked how much
neighbouring pixels differ once slopes and bends are taken out. Read noise stays, shot noise grows with the light, and
grain, a density, with the light's square times the density (Siedentopf's law). Bare light, rebate and the opaque holder
hold next to no grain, the picture does: each block counts as the kind that it lies nearer to, and not at all where it
shows more than both. Needs linear scans; pixels that a program has smoothed or sharpened show less or more than the
scanner's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

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
#: A block under this share of the full scale that touches 0 shows no light: the opaque holder.
BLACK = 0.005
#: Of blocks of noise alone one in five varies by less than this share of the noise (computed, for blocks of BLOCK).
FIFTH = 0.77
#: So many blocks of a level tell how quiet it can be; more of them count no more in the fit.
TELL = 20
#: Noise that lets the blocks of one kind scatter leaves 0.07 (computed); over this there are two kinds of them.
ALONE = 0.1
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
    mean = cut.mean(axis=(0, 2))
    film = np.stack([mean, (bent * bent).mean(axis=(0, 2)) / GAIN], axis=1)[inside]
    black = ~inside & (mean.max(axis=1) < BLACK * scan.full_scale)
    return np.concatenate([film, _at_black(cut[:, black].swapaxes(0, 1))]).astype(np.float64)


def _at_black(blocks: np.ndarray) -> np.ndarray:
    """Rows (n, 2, 3) of opaque blocks (n, h, w, 3) that black cuts off: their upper half alone tells how they scatter.

    One standard deviation lies between the 84.13th and the 97.72nd percentile of a normal distribution.
    """
    if len(blocks) == 0:
        return np.empty((0, 2, 3))
    values = blocks.reshape(len(blocks), -1, 3)
    upper, uppermost = np.percentile(values, [84.13, 97.72], axis=1)
    told = (upper > 0).all(axis=1) & (uppermost > upper).all(axis=1)
    return np.stack([values.mean(axis=1), (uppermost - upper) ** 2], axis=1)[told]


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
    """Read² [codes²], shot [codes] and grain's factor of one layer: through blocks of one kind, or, where that leaves
    too much over, through blocks of noise alone and of noise and grain."""
    signal, variance = np.maximum(signal, 1.0), np.maximum(variance, 1e-6)
    light = signal > 3 * np.sqrt(variance)
    if light.sum() < FEWEST or np.ptp(np.log10(signal[light])) < np.log10(RANGE):
        return None
    level, of_level = np.unique(np.floor(2 * np.log2(signal)), return_inverse=True, return_counts=True)[1:]
    blocks = Blocks(
        signal, variance, light, level, signal**2 * (np.log10(signal.max() / signal) + 0.1),
        1 / np.sqrt(np.maximum(of_level[level], TELL)),
    )  # fmt: skip
    one = _through(blocks, _first_of_one_kind(blocks), parted=False)
    two = _through(blocks, _first_of_two(blocks), parted=True)
    chosen = one if two is None or (one is not None and one[1] < ALONE) else two
    return None if chosen is None else chosen[0]


class Blocks(NamedTuple):
    """Blocks (n,) of one layer: what they show, whether light came through, and which level they are of.

    `grain` is what a factor of 1 adds to the variance; `counted`: levels of many blocks count no more than others.
    """

    signal: np.ndarray
    variance: np.ndarray
    light: np.ndarray
    level: np.ndarray
    grain: np.ndarray
    counted: np.ndarray


def _through(of: Blocks, found: np.ndarray, parted: bool) -> tuple[np.ndarray, float] | None:
    """The three figures and what they leave over (the mean of the squared logarithm of shown over expected)."""
    left = np.inf
    for _ in range(10):
        scanner = np.maximum(found[0] + found[1] * of.signal, 1e-6)
        both = scanner + found[2] * of.grain
        # Nearer to which of the two, by its logarithm: over or under their geometric mean.
        grained = of.variance**2 > scanner * both if parted else of.light
        expected = np.where(grained, both, scanner)
        quiet = (of.variance < QUIET * expected) & (of.variance > expected / 2)
        if (quiet & of.light).sum() < FEWEST:
            return None
        away = np.minimum(np.log(of.variance / expected) ** 2, np.log(2) ** 2)
        left = float(np.average(away, weights=of.counted**2))
        design = np.stack([np.ones_like(of.signal), of.signal, of.grain * grained], axis=1)
        rows = (design * (of.counted / expected)[:, None])[quiet]
        scale = np.maximum(np.linalg.norm(rows, axis=0), 1e-30)
        found = nnls(rows / scale, (of.variance * of.counted / expected)[quiet])[0] / scale
    return found, left


def _first_of_one_kind(of: Blocks) -> np.ndarray:
    """Where that fit starts (3,): through the quietest fifth of each level."""
    quiet = np.zeros(len(of.signal), bool)
    for one in np.unique(of.level):
        here = np.flatnonzero(of.level == one)
        quiet[here[of.variance[here] <= np.percentile(of.variance[here], 20)]] = True
    design = np.stack([np.ones_like(of.signal), of.signal, of.grain * of.light], axis=1)[quiet]
    rows = design / of.variance[quiet, None]
    scale = np.maximum(np.linalg.norm(rows, axis=0), 1e-30)
    found: np.ndarray = nnls(rows / scale, np.ones(len(rows)))[0] / scale
    return found


def _first_of_two(of: Blocks) -> np.ndarray:
    """Where that fit starts (3,): read² from where no light came through, shot from the level that is quietest for its
    light, grain from the quieter blocks of those that show twice as much."""
    dark = ~of.light
    read = float(np.median(of.variance[dark])) if dark.sum() >= TELL else 0.0
    quietest = []
    for one in np.unique(of.level[of.light]):
        here = of.light & (of.level == one)
        if here.sum() >= TELL:
            quietest.append(float(np.percentile(of.variance[here] / of.signal[here], 20)) / FIFTH)
    shot = min(quietest, default=float(np.percentile((of.variance / of.signal)[of.light], 5)))
    over = of.variance - read - shot * of.signal
    more = of.light & (over > read + shot * of.signal)
    return np.array([read, shot, np.percentile((over / of.grain)[more], 25) if more.sum() >= TELL else 0.0])
