"""The three records of a colour film, always in this order and under these names."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

CHANNELS = ("r", "g", "b")


class RGB(NamedTuple):
    """One figure per channel. The unit is its owner's: density [D], code value, log exposure."""

    r: float
    g: float
    b: float

    def as_json(self) -> dict[str, float | None]:
        """A mapping with the keys r, g, b; NaN and infinities become null."""
        return {name: number(value) for name, value in zip(CHANNELS, self, strict=True)}


def rgb(values: Iterable[float] | Mapping[str, float]) -> RGB:
    """An `RGB` from three numbers in order or from a mapping with the keys r, g, b."""
    if isinstance(values, Mapping):
        return RGB(*(float(values[name]) for name in CHANNELS))
    return RGB(*(float(value) for value in values))


def number(value: float | None) -> float | None:
    """A finite float, or None: JSON of this project never holds NaN."""
    if value is None:
        return None
    value = float(value)
    return value if value - value == 0 else None
