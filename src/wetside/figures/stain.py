"""A stain that can be taken off: what it adds, where, and what shows that it adds the same everywhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wetside.figures.channels import RGB
from wetside.figures.place import Rectangle

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class Stain:
    """An additive stain of one frame.

    box         where `weight` lies, in pixels of the frame's file (or of its part of one)
    mark        the mark that was looked at, in pixels of the stored file
    weight      (n, m) uint8: 255 where the whole density was added, falling to 0 along its own soft outline
    density     what it adds r g b [D], as the unexposed film shows it; `spread` of that
    share       how much of that the picture shows at the stain's outline, 1 for all; `doubt` is its spread
    """

    box: Rectangle
    mark: Rectangle
    weight: np.ndarray
    density: RGB
    spread: RGB
    share: float
    doubt: float

    @property
    def remains(self) -> float:
        """How far off the subtracted density may be in the picture [D]: by what the picture shows of it, or its spread."""
        return max(abs(1 - self.share), self.doubt) * max(abs(value) for value in self.density)
