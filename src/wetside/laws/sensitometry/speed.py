"""Speed by the construction of ISO 5800 (as remembered; the standard's text was not seen) and mired shifts."""

from __future__ import annotations

import math

THRESHOLD = 0.15
#: Exposure [lx·s] a meter gives a mid-grey at index S: q·K/S with q 0.65 and K 12.5. Computed.
GREY = 0.65 * 12.5


def speed_iso5800(log_h_green: float, log_h_slowest: float) -> float:
    """S = √2 / H_m, H_m = √(H_G · H_slowest), H [lx·s] at D-min + 0.15 of green and of the slowest layer."""
    return math.sqrt(2.0) / 10 ** ((log_h_green + log_h_slowest) / 2)


def speed_degrees(speed: float) -> float:
    """S° = 1 + 10 log10 S."""
    return 1 + 10 * math.log10(speed)


def log_speed_spread(layer_spread: float, green_is_slowest: bool) -> float:
    """sd of log10 S from the sd of a layer's log H: the same when green is the slowest, over √2 when it is not."""
    return layer_spread if green_is_slowest else layer_spread / math.sqrt(2)


def grey_exposure(index: float) -> float:
    """Log exposure [log10 lx·s] of a mid-grey metered at an exposure index."""
    return math.log10(GREY / index)


def mired_shift(of: float, to: float) -> float:
    """10⁶/to − 10⁶/of for two colour temperatures [K]."""
    return 1e6 / to - 1e6 / of


def thirds(index: float) -> int:
    """The nearest index of the third-stop series 10, 12, 16, 20, 25 … 3200."""
    series = (
        10,
        12,
        16,
        20,
        25,
        32,
        40,
        50,
        64,
        80,
        100,
        125,
        160,
        200,
        250,
        320,
        400,
        500,
        640,
        800,
        1000,
        1250,
        1600,
        2000,
        2500,
        3200,
    )
    return min(series, key=lambda s: abs(math.log(s / index)))
