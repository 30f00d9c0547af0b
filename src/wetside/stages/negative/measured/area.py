"""A rectangle of the negative as plots would show it: density along it, across it, and how often each density occurs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.figures.place import Rectangle
from wetside.figures.reading import Flare
from wetside.figures.scan import Scan
from wetside.stages.negative.measured.patches import Spot, shrunk_box
from wetside.stages.negative.scanner.veil_off import At, level_at
from wetside.stages.negative.scanner.working import Light

POINTS = 160
BINS = 48


@dataclass(frozen=True)
class AreaReading:
    """`whole`: the rectangle as one patch. `along` and `across` (n, 3) [D]: means over columns and over rows.

    `edges` (BINS + 1,) [D] and `counts` (BINS, 3): the histogram, each layer's share of the pixels.
    """

    whole: Spot
    along: np.ndarray
    across: np.ndarray
    edges: np.ndarray
    counts: np.ndarray
    flare: Flare | None = None
    kind: str = "camera"


def area(
    scan: Scan,
    box: Rectangle,
    open_gate: Scan | None,
    light: Light,
    whole: Spot,
    flare: Flare | None,
    counted: Callable[[np.ndarray], np.ndarray],
    at: At | None = None,
) -> AreaReading:
    """Plots of a rectangle (pixels of the file) that was read as `whole`, its frame's stray light taken off.

    `counted` brings densities (n, 3) [D] against the light to what the roll's densities count from. Light is averaged
    before its logarithm is taken, as a densitometer does. `at`: where its pixels lie in the frame, as shares x, y of it.
    """
    ratio = light.ratio(scan)
    inside = shrunk_box(box, scan.shrink).clipped_to(scan.width, scan.height)
    pixels = scan.pixels[inside.slices].astype(np.float32) - np.float32(light.dark)
    bright: np.ndarray | float = scan.full_scale - light.dark
    if open_gate is not None:
        sx, sy = open_gate.width / scan.width, open_gate.height / scan.height
        part = open_gate.pixels[int(inside.y * sy) : max(1, int((inside.y + inside.h) * sy)),
                                int(inside.x * sx) : max(1, int((inside.x + inside.w) * sx))]  # fmt: skip
        scaled = cv2.resize(part.astype(np.float32), (inside.w, inside.h), interpolation=cv2.INTER_AREA)
        bright = (scaled - light.dark) * (scan.full_scale / open_gate.full_scale)
    seen = pixels * np.float32(ratio) / np.maximum(bright, 1e-6)
    if flare is not None:
        lit = None if open_gate is None else np.maximum(bright, 1e-6) / scan.full_scale
        level = level_at(flare, lit, at)
        seen = (seen - level.astype(np.float32)) / np.float32(1 - flare.share)
    transmitted = np.maximum(seen, 1e-5)
    along = counted(_density(transmitted.mean(axis=0), inside.w))
    across = counted(_density(transmitted.mean(axis=1), inside.h))
    thin = max(1, int(np.sqrt(transmitted.shape[0] * transmitted.shape[1] / 250_000)))
    values = counted(-np.log10(transmitted[::thin, ::thin].reshape(-1, 3)))
    low, high = float(np.floor(values.min() * 10) / 10), float(np.ceil(np.percentile(values, 99.9) * 10) / 10)
    edges = np.linspace(low, max(high, low + 0.1), BINS + 1)
    counts = np.stack([np.histogram(values[:, c], edges)[0] / len(values) for c in range(3)], axis=1)
    return AreaReading(whole, along, across, edges, counts, flare)


def _density(light: np.ndarray, length: int) -> np.ndarray:
    """Density of a row of light (length, 3), averaged down to at most POINTS."""
    wanted = min(POINTS, length)
    small = cv2.resize(light[None].astype(np.float32), (wanted, 1), interpolation=cv2.INTER_AREA)[0]
    return -np.log10(np.maximum(small, 1e-5))
