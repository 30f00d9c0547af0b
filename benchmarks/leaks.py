"""Light that leaks into a camera: an exposure added to the film's own, before it is developed.

Most leaks come in by a seam of the back: strongest at the film's edge, beside the picture too, and falling off inwards; some
come through the shutter, and then only as far as the gate is open. Light adds exposure, so thin places take more density from it
than dense ones; through the base it meets red first, through the emulsion blue (handbook, film §4). How much, how far and
how often is drawn (judged).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: What unexposed film counts as [log H]: under any toe.
DARK = -4.0
#: Light by layer [log H] of leaks through the base and through the emulsion.
COLOURS = (np.array([0.0, -0.2, -0.45]), np.array([-0.45, -0.15, 0.0]))


@dataclass(frozen=True)
class Leak:
    """One leak's way into a frame: its place along and down it [mm from the picture's corner], reach along [mm], reach inwards
    [mm], its light's strength [log H] and colour (3,), and whence: "top" or "bottom" edge of the film, or "shutter"."""

    along: float
    down: float
    wide: float
    deep: float
    log_h: float
    colour: np.ndarray
    whence: str


def drawn_leak(frame_mm: tuple[float, float], both_edges: bool, rng: np.random.Generator) -> Leak:
    """A leak of a camera for a picture so long and high [mm]: three in five at an edge of the film, the rest through the shutter."""
    long, high = frame_mm
    size = min(1.0, high / 16)
    whence = "shutter" if rng.random() < 0.4 else str(rng.choice(["top", "bottom"]))
    through = int(rng.random() < 0.5)
    return Leak(
        rng.uniform(0.1, 0.9) * long, rng.uniform(0.1, 0.9) * high, rng.uniform(1.2, 3.5) * size,
        rng.uniform(3.0, 8.0) * size, rng.uniform(0.7, 1.4), COLOURS[through], whence,
    )  # fmt: skip


def light_of(
    leak: Leak, shape: tuple[int, int], picture: tuple[int, int, int, int], film: tuple[int, int], px: float
) -> np.ndarray:
    """Exposure (h, w) of a leak on a frame of this shape, 1 at its strongest: `picture` x, y, w, h and first and last row of the `film`."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    left, top, w, h = picture
    u = (x - left - leak.along * px) / (leak.wide * px)
    if leak.whence == "shutter":
        v = (y - top - leak.down * px) / (leak.wide * px)
        spot = np.exp(-((u * u + v * v) ** 1.5))
        inside = (x >= left) & (x < left + w) & (y >= top) & (y < top + h)
        return np.asarray(spot * inside)
    inward = y - film[0] if leak.whence == "top" else film[1] - y
    away = np.maximum(inward, 0) / (leak.deep * px)
    spread = u / (1 + 0.5 * away)  # it fans out on its way in
    return np.asarray(np.exp(-spread * spread - away))


def leaked(log_h: np.ndarray, light: np.ndarray, leak: Leak, stops: float) -> np.ndarray:
    """Log exposures (h, w, 3) with a leak's light (h, w) added, so many stops over or under its own strength."""
    added = 10.0 ** (leak.log_h + 0.30103 * stops + leak.colour)
    return np.asarray(np.log10(10.0**log_h + light[..., None] * added), np.float32)
