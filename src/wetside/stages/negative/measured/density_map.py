"""A frame's densities as colours, thin to dense from dark blue to pale yellow, so that one look finds what differs.

Lightness grows with density all the way, so the map reads in grey too; steps of a tenth of a density show as bands.
"""

from __future__ import annotations

import numpy as np

#: Density [D] above the frame's thinnest film at which the last colour is reached.
TOP = 1.5
STOPS = np.array(
    [(14, 22, 54), (24, 62, 110), (28, 110, 130), (74, 150, 110), (170, 182, 84), (236, 212, 120), (252, 244, 214)],
    float,
)  # fmt: skip
BAND = 0.1


def coloured(density: np.ndarray, zero: float) -> np.ndarray:
    """8-bit picture (h, w, 3) of densities (h, w) [D] counted from `zero`; every BAND one step lighter."""
    level = np.floor(np.clip((density - zero) / TOP, 0, 1) * (TOP / BAND) + 1e-6) * (BAND / TOP)
    place = level * (len(STOPS) - 1)
    low = np.minimum(place.astype(int), len(STOPS) - 2)
    part = (place - low)[..., None]
    return (STOPS[low] * (1 - part) + STOPS[low + 1] * part).astype(np.uint8)


def legend() -> list[tuple[float, str]]:
    """Every band's lower density above zero [D] and its colour as #rrggbb."""
    steps = np.arange(0, TOP + 1e-9, BAND)
    colours = coloured(steps, 0.0)
    return [
        (round(float(v), 2), "#" + "".join(f"{c:02x}" for c in colour)) for v, colour in zip(steps, colours)
    ]
