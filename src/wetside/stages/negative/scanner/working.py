"""A scan brought to working size, as density against the light. Nothing here knows what a picture is."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.flags import Left
from wetside.figures.place import Part
from wetside.figures.scan import DARKEST_CODE, Scan
from wetside.laws.image.layers import highest, lowest
from wetside.laws.sensitometry.density import density_from_transmittance, transmittance

LONGEST = 1000
#: Densities are kept in steps of this [D].
STEP = np.float32(0.00025)
#: How well [D] a median of them is known: a step over √12.
STEP_ERROR = float(STEP) / 12**0.5
#: Means of pixels at a log file's darkest code lie within this share of it.
AT_DARKEST = 1.02
#: The light is smooth: a grid of so many places along a frame tells it.
LIT = 24


@dataclass(frozen=True)
class Working:
    """`kept` (h, w, 3) against the light, base included; `shrink` file pixels a pixel; mask of `Left` bits.

    Kept in whole steps of 0.00025 D (int16), so that a roll of 36 frames stays under 300 MB. `lit`: the light's share of
    the full scale over the frame, on a coarse grid (h, w, 3); None where no light was scanned.
    """

    file: str
    kept: np.ndarray
    mask: np.ndarray
    shrink: float
    width: int
    height: int
    lit: np.ndarray | None = None

    @property
    def density(self) -> np.ndarray:
        """The densities [D] as float32."""
        return self.kept * STEP

    def under(self, limits: np.ndarray) -> np.ndarray:
        """Where every layer is thinner than its own limit (3,) [D], (h, w) bool; on the steps, four times quicker than on densities."""
        lowest_of_all = (float(np.iinfo(np.int16).min),) * 3
        return cv2.inRange(self.kept, lowest_of_all, tuple(last_step_under(limit) for limit in limits)) > 0

    def over(self, limit: float) -> np.ndarray:
        """Where every layer is denser than a limit [D], (h, w) bool."""
        first = -last_step_under(-limit)
        return cv2.inRange(self.kept, (first,) * 3, (float(np.iinfo(np.int16).max),) * 3) > 0


def last_step_under(limit: float) -> float:
    """The largest whole number of steps that is a smaller density than a limit [D] (float32)."""
    near = np.floor(np.float32(limit) / STEP) + np.array([-2, -1, 0, 1], np.float32)
    return float(near[near * STEP < np.float32(limit)].max())


def in_steps(density: np.ndarray) -> np.ndarray:
    """Densities (h, w, 3) [D], rounded to int16 steps of 0.00025 D; what lies beyond ±8.19 D is held there."""
    steps: np.ndarray = cv2.multiply(  # type: ignore[call-overload]
        np.ascontiguousarray(density, np.float32), (1 / float(STEP),) * 4, dtype=cv2.CV_16S
    )
    return steps


@dataclass(frozen=True)
class Light:
    """The light without film at working size, and its dark level. `field` is None when no open gate was scanned.

    `file_width` is its file's. `exposure_s` is the exposure that the open gate's file, or else the roll's first, states for itself.
    """

    field: np.ndarray | None = None
    dark: float = 0.0
    exposure_ratio: float = 1.0
    exposure_s: float | None = None
    file_width: int | None = None

    def ratio(self, scan: Scan) -> float:
        """The light's exposure over a scan's: as told by the user, times what the two files state; 1 where they do not."""
        if self.exposure_s is None or scan.exposure_s is None:
            return self.exposure_ratio
        return self.exposure_ratio * self.exposure_s / scan.exposure_s


def reduced(pixels: np.ndarray, longest: int = LONGEST) -> tuple[np.ndarray, float]:
    """Area-averaged float32 pixels with the longer side at most `longest`, and the factor of reduction."""
    height, width = pixels.shape[:2]
    shrink = max(1.0, max(height, width) / longest)
    if shrink == 1.0:
        return pixels.astype(np.float32), 1.0
    size = (max(1, round(width / shrink)), max(1, round(height / shrink)))
    return cv2.resize(pixels, size, interpolation=cv2.INTER_AREA).astype(np.float32), shrink


def light_of(open_gate: Scan | None, dark: Scan | None, exposure_ratio: float | None = None) -> Light:
    """The light; a ratio of exposures given by the user counts instead of what the files state. The light's field, smoothed over 1 % of the picture so that its own noise and dust do not print through."""
    level = 0.0 if dark is None else float(np.median(dark.pixels[::7, ::7]))
    if open_gate is None:
        return Light(None, level, exposure_ratio or 1.0)
    field, _ = reduced(open_gate.pixels)
    if min(field.shape[:2]) >= 16:
        field = cv2.GaussianBlur(cv2.medianBlur(field, 5), (0, 0), max(1.0, 0.01 * max(field.shape[:2])))
    told = open_gate.exposure_s if exposure_ratio is None else None
    return Light(field, level, exposure_ratio or 1.0, told, open_gate.width * open_gate.shrink)


def field_within(field: np.ndarray, part: Part | None, file_width: int) -> np.ndarray:
    """What of a field (h, w, …) over a whole file lies over a part of it, as the part lies."""
    if part is None:
        return field
    fine = field.shape[1] / file_width
    x, y, w, h = (round(v * fine) for v in part.box)
    cut = field[y : y + max(1, h), x : x + max(1, w)]
    return np.ascontiguousarray(part.upright(cut))


def _longest(scan: Scan) -> int:
    """The longer side to work at. Parts are reduced by quarters, so that those of one roll agree."""
    longest = max(scan.height, scan.width)
    if scan.part is None:
        return LONGEST
    return round(longest / max(1.0, np.ceil(4 * longest / LONGEST) / 4))


def working(scan: Scan, light: Light, longest: int | None = None) -> Working:
    """Density of a linear scan against the light, or against its own full scale where no light was scanned."""
    pixels, shrink = reduced(scan.pixels, longest or _longest(scan))
    height, width = pixels.shape[:2]
    mask = np.zeros((height, width), np.uint16)
    white = 0.999 * scan.full_scale
    if scan.coding != "log":  # printing density counts from the base: codes go on beyond its white
        mask[highest(pixels) >= white] |= int(Left.CLIPPED)
    else:
        mask[highest(pixels) <= AT_DARKEST * DARKEST_CODE] |= int(Left.BLACK)
    bare = lowest(pixels) >= white
    lost = ~np.isfinite(pixels[..., 0] + pixels[..., 1] + pixels[..., 2])
    if lost.any():  # looking for them takes longer than the densities, and no file of whole numbers has any
        mask[lost] |= int(Left.NOT_FINITE)
        np.nan_to_num(pixels, copy=False, nan=0.0, posinf=scan.full_scale, neginf=0.0)
    field: np.ndarray | float = scan.full_scale
    lit: np.ndarray | None = None
    if light.field is not None:
        own = field_within(light.field, scan.part, light.file_width or scan.width)
        field = cv2.resize(own, (width, height), interpolation=cv2.INTER_LINEAR)
        lit = cv2.resize(own, (LIT, LIT), interpolation=cv2.INTER_AREA)
        lit = np.maximum((lit - np.float32(light.dark)) / np.float32(scan.full_scale), 1e-6)
    density = density_from_transmittance(transmittance(pixels, field, light.dark, light.ratio(scan)))
    # Clipped in all layers: bare light, however much longer the film was exposed than the open gate.
    density[bare] = 0.0
    file_shrink = shrink * scan.shrink
    return Working(
        scan.file,
        in_steps(density),
        mask,
        file_shrink,
        scan.width * scan.shrink,
        scan.height * scan.shrink,
        lit,
    )
