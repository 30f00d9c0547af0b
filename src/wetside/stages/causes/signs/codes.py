"""A frame of a gamma-coded file, as the search for marks is shown it: by its codes.

What curve such a file was given is not known. The logarithm of its light is right for a plain negative and far off for an
inverted one, whose thin parts come out black. Codes are near to even steps of film density either way: an inversion's are by
its making, a negative's are as far as a root is like a logarithm. So marks that add stay near to adding (docs/studies.md).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wetside.figures.density import DensityFrame

#: Density [D] that all codes span, about as much as a negative's picture does; 1.2 to 2 find as many marks.
SPAN = 1.5
#: Exponent from a file's light to its codes (IEC 61966-2-1, near enough).
TO_CODES = 1 / 2.2


def in_codes(frame: DensityFrame) -> DensityFrame:
    """The frame with codes in place of logarithms of light: white 0, black 1.5, as if it were density [D]."""
    codes = np.power(np.float32(10), frame.density * np.float32(-TO_CODES))
    return replace(frame, density=np.float32(SPAN) * (1 - codes))
