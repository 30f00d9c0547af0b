"""A stock's characteristic curves: density above base against log exposure, a set of points for each layer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Curves:
    """log_h[channel] rising [log10 lx·s, or relative], density[channel] above base [D], spread[channel] [D]."""

    log_h: Mapping[str, tuple[float, ...]]
    density: Mapping[str, tuple[float, ...]]
    spread: Mapping[str, tuple[float, ...]]
    source: str
