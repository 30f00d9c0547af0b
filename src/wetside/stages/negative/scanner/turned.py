"""A frame scanned twice, the second time turned half round in the holder: the scanner's shading apart from the film's.

Answers: which of the unevenness stays with the scanner when the film is turned? The film, picture and all, cancels
between the scan and the turned one laid back over it; what is left is the scanner's shading less its own half turn.
So only the part that changes under half a turn can be told (a light stronger on one side); what is alike after it (a
fall to all corners) cannot, and wants an open gate.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np

from wetside.figures.channels import RGB, rgb
from wetside.figures.density import DensityFrame
from wetside.figures.finding import CannotSay, Finding
from wetside.laws.image.laid_over import laid_over, likeness, small
from wetside.stages.negative.scanner.fall_off import FallOff
from wetside.stages.negative.scanner.light_surface import Surface

SIZE = 400
#: Residual [D] over which the two scans do not show the same film.
ALIKE = 0.15


@dataclass(frozen=True)
class Shading:
    """`field` (h, w, 3) [D]: the scanner's part that changes under half a turn, in the first scan's place; its error [D]."""

    field: np.ndarray
    error: float
    shift: tuple[float, float]

    def slopes(self) -> np.ndarray:
        """Density [D] gained from the left edge to the right, and from top to bottom (2, 3)."""
        height, width = self.field.shape[:2]
        x, y = np.linspace(-0.5, 0.5, width), np.linspace(-0.5, 0.5, height)
        across, down = self.field.mean(axis=0), self.field.mean(axis=1)
        return np.stack([np.polyfit(x, across, 1)[0], np.polyfit(y, down, 1)[0]])


def scanner_shading(density: np.ndarray, turned: np.ndarray) -> Shading | CannotSay:
    """The scanner's shading from densities (h, w, 3) [D] of a frame and of its second scan as the scanner stored it."""
    if density.shape != turned.shape:
        return CannotSay(
            "the two scans differ in size", "a second scan with the same settings, the film turned half round"
        )
    first, back = small(density, SIZE), small(turned, SIZE)[::-1, ::-1]
    back, shift = laid_over(first, back)
    rim = 0.06
    rows, columns = (slice(int(n * rim), n - int(n * rim)) for n in first.shape[:2])
    away = first - back
    away = away - np.median(away[rows, columns], axis=(0, 1))
    left_over = away - cv2.GaussianBlur(away, (0, 0), SIZE / 40)
    error = float(1.4826 * np.median(np.abs(left_over[rows, columns])))
    if error > ALIKE or likeness(first[rows, columns], back[rows, columns]) < 0.7:
        return CannotSay(
            "the two scans do not show the same frame",
            "the same frame again, the film turned half round in its holder",
        )
    smooth = _odd_surface(away, rows, columns) / 2
    return Shading(smooth.astype(np.float32), error / 2, shift)


def _odd_surface(away: np.ndarray, rows: slice, columns: slice) -> np.ndarray:
    """A smooth surface that changes its sign under half a turn: terms x, y, x³, x²y, xy², y³, fitted robustly (h, w, 3)."""
    height, width = away.shape[:2]
    y, x = np.meshgrid(np.linspace(-1, 1, height), np.linspace(-1, 1, width), indexing="ij")
    terms = np.stack([x, y, x**3, x * x * y, x * y * y, y**3], axis=-1)
    design, values = terms[rows, columns].reshape(-1, 6), away[rows, columns].reshape(-1, 3)
    weight = np.ones(len(values))
    for _ in range(4):
        found, *_ = np.linalg.lstsq(design * weight[:, None], values * weight[:, None], rcond=None)
        left = np.abs(values - design @ found).max(axis=1)
        weight = (left < 4 * np.median(left) + 1e-6).astype(float)
    return terms @ found


@dataclass(frozen=True)
class Gradient:
    """The light's gradient as a plane: density [D] gained from left to right and from top to bottom (3,), and what shows it.

    `zero`: the place of the rebate that the base was read from, as shares of the file.
    """

    across: np.ndarray
    down: np.ndarray
    frame: str
    scan: str
    zero: tuple[float, float] = (0.5, 0.5)

    def fall(self, width: int, height: int, doubt: float = 0.0) -> FallOff:
        """As a fall-off of a file of that size, 0 at `zero`; `doubt` [D]: its spread everywhere."""
        u, v = self.across / 2, self.down / 2 * width / height
        at = (2 * self.zero[0] - 1) * u + (2 * self.zero[1] - 1) * v * height / width
        covariance = np.zeros((4, 4))
        covariance[0, 0] = doubt**2
        return FallOff(Surface(np.stack([-at, u, v, 0 * u]), 0.0, doubt, covariance))

    def over(self, height: int, width: int) -> np.ndarray:
        """The plane (h, w, 3) [D], 0 in the middle."""
        x, y = (np.arange(width) + 0.5) / width - 0.5, (np.arange(height) + 0.5) / height - 0.5
        return (x[None, :, None] * self.across + y[:, None, None] * self.down).astype(np.float32)

    def field(self, height: int, width: int, white: float) -> np.ndarray:
        """What an open gate would show of it (h, w, 3) in codes, `white` where the base was read."""
        x, y = (
            (np.arange(width) + 0.5) / width - self.zero[0],
            (np.arange(height) + 0.5) / height - self.zero[1],
        )
        lacks = x[None, :, None] * self.across + y[:, None, None] * self.down
        return (white * np.power(10.0, -lacks)).astype(np.float32)

    def as_json(self) -> dict[str, object]:
        """As it is kept with a reading; `gradient_from` reads it back."""
        return {"across": rgb(self.across).as_json(), "down": rgb(self.down).as_json(), "zero": list(self.zero),
                "frame": self.frame, "scan": self.scan}  # fmt: skip

    def said(self) -> Finding:
        """One note for the roll."""
        a, d = self.across, self.down
        return Finding(
            "light-from-turned", "note", self.frame,
            "scanned a second time turned half round: the gradient that stays in place is the light's and is taken off before the film's cast is looked for; what half a turn leaves alike is not told",
            "an open gate",
            f"left to right {a[0]:+.3f} {a[1]:+.3f} {a[2]:+.3f} D, top to bottom {d[0]:+.3f} {d[1]:+.3f} {d[2]:+.3f} D, by {self.scan}",
        )  # fmt: skip


def gradient_of(found: Shading, frame: str, scan: str) -> Gradient:
    """The plane in a shading."""
    across, down = found.slopes()
    return Gradient(across, down, frame, scan)


def levelled(frame: DensityFrame, light: Gradient) -> DensityFrame:
    """A frame, the base beside its picture and the bare light, with the light's gradient taken off."""
    height, width = frame.density.shape[:2]

    def own(side: str, value: RGB) -> RGB:
        right, low = _place_of(frame, side)
        return rgb(np.array(value) - (right - 0.5) * light.across - (low - 0.5) * light.down)

    return replace(
        frame, density=frame.density - light.over(height, width),
        sides={side: own(side, value) for side, value in frame.sides.items()},
        bare={side: own(side, value) for side, value in frame.bare.items()},
    )  # fmt: skip


def gradient_from(given: Mapping[str, Any]) -> Gradient:
    """A gradient from its JSON."""
    across, down = (np.array([given[name][c] for c in "rgb"], float) for name in ("across", "down"))
    return Gradient(across, down, str(given["frame"]), str(given["scan"]), tuple(given["zero"]))


def from_rebate(light: Gradient, frames: list[DensityFrame]) -> Gradient:
    """The gradient counted from where these frames' rebate lies."""
    seen = [(frame, side) for frame in frames for side in frame.sides]
    places = np.array([_place_of(frame, side) for frame, side in seen]).reshape(-1, 2)
    if not len(places):
        return light
    return replace(light, zero=(float(np.median(places[:, 0])), float(np.median(places[:, 1]))))


def _place_of(frame: DensityFrame, side: str) -> tuple[float, float]:
    height, width = frame.density.shape[:2]
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    row = {"top": y / 2, "bottom": (y + h + height) / 2}.get(side, y + h / 2)
    column = {"left": x / 2, "right": (x + w + width) / 2}.get(side, x + w / 2)
    return column / width, (y + h * frame.places[side] if side in frame.places else row) / height
