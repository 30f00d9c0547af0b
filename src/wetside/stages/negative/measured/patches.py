"""A rectangle read as a densitometer would: light first averaged, then its logarithm; clipped patches are not read."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.place import Rectangle
from wetside.figures.scan import Scan
from wetside.figures.spread import Spread
from wetside.laws.sensitometry.noise import Noise

#: How much a light changes from one scan to the next [D] where a roll's own frames do not tell (common practice).
STRAY = 0.002
#: A patch is cut into at most so many parts each way; their means tell how well the whole is known.
PARTS = 4
#: By chance the parts of a patch of independent pixels differ by more than this in one patch of six: the 84th percentile of
#: chi-squared with 13 freedoms, over 13 (16 parts less a plane's three figures).
BY_CHANCE = 1.38


@dataclass(frozen=True)
class Spot:
    """Density [D] against the light and its standard deviation; None where the patch cannot be read, with the reason.

    `parts` is what the spread is made of. `grain` [D]: how much the film's own density differs from pixel to pixel,
    the scanner's noise taken off; None where that noise is not known, which `with_noise` tells from what was `sampled`.
    """

    density: RGB | None
    spread: RGB | None
    reason: str = ""
    parts: Spread | None = None
    grain: RGB | None = None
    sampled: Sampled | None = None


@dataclass(frozen=True)
class Sampled:
    """What a patch's pixels were [codes]: `signal` and `light` (3,) (None: no open gate), the `variance` of its mean as
    its parts tell it, and of single pixels about their part; how many `pixels` there were; the scan's full scale."""

    signal: np.ndarray
    light: np.ndarray | None
    variance: np.ndarray
    of_pixels: np.ndarray
    pixels: int
    white: float

    @property
    def share(self) -> np.ndarray | None:
        """The light's share (3,) of the full scale; None without an open gate."""
        return None if self.light is None else self.light / self.white


def spot(scan: Scan, box: Rectangle, open_gate: Scan | None, dark: float, exposure_ratio: float) -> Spot:
    """One patch, the outer tenth of it left out. Spread: how well its mean is known, and 0.002 D for the light's own change."""
    inside = shrunk_box(box, scan.shrink).clipped_to(scan.width, scan.height)
    if inside.w < 2 or inside.h < 2:
        return Spot(None, None, "the patch lies outside the file or is smaller than 2 × 2 pixels")
    rim_x, rim_y = inside.w // 10, inside.h // 10
    core = Rectangle(inside.x + rim_x, inside.y + rim_y, inside.w - 2 * rim_x, inside.h - 2 * rim_y)
    values = scan.pixels[core.slices].astype(np.float64)
    if (values >= 0.999 * scan.full_scale).mean() > 0.01:
        return Spot(None, None, "the patch is clipped at the scan's white")
    light = _light_at(scan, core, open_gate)
    signal = trimmed_mean(values.reshape(-1, 3)) - dark
    if (signal <= 0).any():
        return Spot(None, None, "the patch is at or below the scan's black")
    density = -np.log10(signal * exposure_ratio / (light - dark))
    variance, of_pixels = _scatter(values)
    sampled = Sampled(
        signal, light - dark if open_gate is not None else None, variance, of_pixels, core.w * core.h,
        scan.full_scale,
    )  # fmt: skip
    parts = Spread(rgb(np.sqrt(variance) / signal / np.log(10)), RGB(STRAY, STRAY, STRAY))
    return Spot(rgb(density), parts.whole(), "", parts, None, sampled)


def _scatter(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Variance (3,) of the mean of a patch (h, w, 3) and of its pixels about their part [codes²].

    Its parts differ by noise, grain and unevenness, whatever their grain size; a slope is no error of the mean. Where they
    differ by no more than independent pixels let them, the pixels tell it, being many; a few parts tell it badly.
    """
    height, width = values.shape[:2]
    down, across = min(PARTS, height // 2), min(PARTS, width // 2)
    parts = down * across
    if parts < 6 or min(down, across) < 2:
        own = values.reshape(-1, 3).var(axis=0, ddof=1)
        return own / (height * width), own
    means = cv2.resize(values, (across, down), interpolation=cv2.INTER_AREA)
    y, x = np.mgrid[0:down, 0:across]
    plane = np.stack([np.ones(parts), x.ravel() - x.mean(), y.ravel() - y.mean()], axis=1)
    rows = means.reshape(parts, 3)
    left = rows - plane @ np.linalg.lstsq(plane, rows, rcond=None)[0]
    smooth = cv2.resize(means, (width, height), interpolation=cv2.INTER_LINEAR)
    # Of few parts: as wide as Student's t is with so many freedoms, whose variance is ν / (ν − 2).
    freedom = max(2.5, parts - 3)
    by_parts = (left**2).sum(axis=0) / parts
    of_pixels = (values - smooth).reshape(-1, 3).var(axis=0)
    by_pixels = of_pixels / max(1, height * width - parts)
    told = by_parts / freedom > BY_CHANCE * by_pixels
    return np.where(told, by_parts / (freedom - 2), by_pixels), of_pixels


def with_noise(seen: Spot, noise: Noise | None) -> Spot:
    """A spot whose mean is known no better than the scanner's noise lets it be, and the film's grain told from that noise."""
    if noise is None or seen.sampled is None or seen.parts is None:
        return seen
    of = seen.sampled
    own = noise.read**2 + noise.shot * of.signal
    mean = np.sqrt(np.maximum(of.variance, own / of.pixels)) / of.signal / np.log(10)
    if of.light is not None:
        mean = np.hypot(mean, noise.density_spread(np.zeros(3), of.light, of.pixels))
    grain = np.sqrt(np.maximum(of.of_pixels - own, 0)) / of.signal / np.log(10)
    parts = replace(seen.parts, mean=rgb(mean))
    return replace(seen, spread=parts.whole(), parts=parts, grain=rgb(grain))


def shrunk_box(box: Rectangle, shrink: int) -> Rectangle:
    """A box of the file's pixels in those of an array reduced by a whole factor."""
    return Rectangle(box.x // shrink, box.y // shrink, box.w // shrink, box.h // shrink)


def trimmed_mean(values: np.ndarray, share: float = 0.02) -> np.ndarray:
    """Mean (3,) of pixels (n, 3) without the lowest and highest 2 %: dust and scratches do not count."""
    ordered = np.sort(values, axis=0)
    cut = int(len(ordered) * share)
    return ordered[cut : len(ordered) - cut].mean(axis=0)


def _light_at(scan: Scan, core: Rectangle, open_gate: Scan | None) -> np.ndarray:
    """Light without film at the patch (3,), or the scan's full scale when none was scanned."""
    if open_gate is None:
        return np.full(3, scan.full_scale)
    sx, sy = open_gate.width / scan.width, open_gate.height / scan.height
    x0, y0 = int(core.x * sx), int(core.y * sy)
    x1, y1 = max(x0 + 1, int((core.x + core.w) * sx)), max(y0 + 1, int((core.y + core.h) * sy))
    field = cv2.blur(open_gate.pixels[y0:y1, x0:x1].astype(np.float32), (5, 5))
    return field.reshape(-1, 3).mean(axis=0) * (scan.full_scale / open_gate.full_scale)
