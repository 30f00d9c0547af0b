"""A rectangle read as a densitometer would: light first averaged, then its logarithm; clipped patches are not read."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.place import Rectangle
from wetside.figures.scan import Scan

STRAY = 0.002


@dataclass(frozen=True)
class Spot:
    """Density [D] against the light and its standard deviation; None where the patch cannot be read, with the reason."""

    density: RGB | None
    spread: RGB | None
    reason: str = ""


def spot(scan: Scan, box: Rectangle, open_gate: Scan | None, dark: float, exposure_ratio: float) -> Spot:
    """One patch, the outer tenth of it left out. Spread: the mean's own error and 0.002 D for the light's own noise."""
    inside = shrunk_box(box, scan.shrink).clipped_to(scan.width, scan.height)
    if inside.w < 2 or inside.h < 2:
        return Spot(None, None, "the patch lies outside the file or is smaller than 2 × 2 pixels")
    rim_x, rim_y = inside.w // 10, inside.h // 10
    core = Rectangle(inside.x + rim_x, inside.y + rim_y, inside.w - 2 * rim_x, inside.h - 2 * rim_y)
    values = scan.pixels[core.slices].reshape(-1, 3).astype(np.float64)
    if (values >= 0.999 * scan.full_scale).mean() > 0.01:
        return Spot(None, None, "the patch is clipped at the scan's white")
    light = _light_at(scan, core, open_gate)
    signal = trimmed_mean(values) - dark
    if (signal <= 0).any():
        return Spot(None, None, "the patch is at or below the scan's black")
    density = -np.log10(signal * exposure_ratio / (light - dark))
    error = values.std(axis=0) / np.sqrt(max(1, len(values) / 9)) / signal / np.log(10)
    return Spot(rgb(density), rgb(np.sqrt(error**2 + STRAY**2)))


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
