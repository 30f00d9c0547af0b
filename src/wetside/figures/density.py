"""A frame as densities: what the negative gives to all that look for marks, casts and tones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from wetside.figures.channels import RGB
from wetside.figures.place import Rectangle

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class DensityFrame:
    """One frame of a roll at working size.

    file       name of the scan it came from
    frame      number of the frame on the roll, from 1
    density    (h, w, 3) float32 [D], the base included; relative to the scan's full scale without open gate
    mask       (h, w) uint16, bits of `figures.flags.Left`; 0 = picture that may be measured
    picture    the exposed rectangle, in pixels of the file as stored
    shrink     pixels of the file per pixel of `density` (both axes)
    base       density of the unexposed film in the same reference; None where it was not seen
    px_per_mm  scale of the file as stored; None where it is not known
    sides      base density seen beside the picture: keys "top", "bottom", "left", "right", those that show it
    places     where across the picture (0 its top edge, 1 its bottom) the sides "top" and "bottom" were read
    bare       density of bare light (perforations, beyond the film) above and below: keys "top", "bottom"
    angle      by which the picture lies turned in its scan [degrees], clockwise positive; 0 under 0.25
    """

    file: str
    frame: int
    density: np.ndarray
    mask: np.ndarray
    picture: Rectangle
    shrink: float
    base: RGB | None
    px_per_mm: float | None
    sides: Mapping[str, RGB] = field(default_factory=dict)
    places: Mapping[str, float] = field(default_factory=dict)
    bare: Mapping[str, RGB] = field(default_factory=dict)
    angle: float = 0.0
