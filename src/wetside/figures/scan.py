"""One scan in memory, and the protocols by which strips of pixels come and go.

A `Scan` always holds values proportional to transmitted light when `coding` is "linear" or "log"
(a log file is turned to light by the store), so density = log10(full_scale / value), up to the light.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from wetside.figures.finding import Finding
from wetside.figures.place import Part

if TYPE_CHECKING:
    import numpy as np

Coding = Literal["linear", "gamma", "log"]

#: Light of the darkest code of printing density, (1023 − 95) / 500 D under its white: what is darker still has it too.
DARKEST_CODE = 10 ** -((1023 - 95) / 500)


@dataclass(frozen=True)
class Scan:
    """A scan as an array, with what is known of how it was made.

    file        its name (stem and suffix, no folder)
    pixels      (h, w, 3), uint8, uint16 or float32, rows as stored
    full_scale  the code of full white: 255, 65535, 1.0, or a raw file's white level
    black       the code of no light (already subtracted when 0)
    bits        bits a channel of the file
    coding      "linear", "gamma" (never yields a density) or "log" (printing density, turned to light)
    inverted    True for a positive, None when not known from the file alone
    exposure_s  shutter time × gain relative to base sensitivity; None when the file does not say
    sha256      of the file's bytes; "" for arrays made in memory
    shrink      pixels of the file per pixel of this array (2 for a half-size raw)
    orientation the tag as stored, 1–8; pixels are not turned
    part        where the pixels lie in a file of several frames; None for a whole file
    """

    file: str
    pixels: np.ndarray
    full_scale: float
    bits: int
    coding: Coding
    black: float = 0.0
    inverted: bool | None = None
    exposure_s: float | None = None
    sha256: str = ""
    shrink: int = 1
    orientation: int = 1
    icc: bytes | None = None
    part: Part | None = None
    findings: tuple[Finding, ...] = field(default=())

    @property
    def height(self) -> int:
        return int(self.pixels.shape[0])

    @property
    def width(self) -> int:
        return int(self.pixels.shape[1])
