"""Lines of the light and the scanner: a calibration of the two, and the light as an open gate showed it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from wetside.book.body import Body, things
from wetside.book.line import Thing


@dataclass(frozen=True, kw_only=True)
class Calibrated(Body):
    """A calibration of one light and one scanner. `fit`: matrix, offset, covariance, residual, check, condition, highest.

    `aim` is "status M" or "layers"; `level` what the open gate showed, r g b as a share of full scale.
    """

    kind: ClassVar[str] = "calibration"
    calibration: str
    light: str
    scanner: str
    fit: dict[str, object]
    aim: str = "status M"
    level: dict[str, float] = field(default_factory=dict)
    files: tuple[str, ...] = ()
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(light=self.light, scanner=self.scanner)


@dataclass(frozen=True, kw_only=True)
class LightSeen(Body):
    """The light without film as an open gate showed it: its middle and its corners, r g b as a share of full scale."""

    kind: ClassVar[str] = "light seen"
    light: str
    scanner: str
    level: dict[str, float] = field(default_factory=dict)
    corners: dict[str, float] = field(default_factory=dict)
    exposure_s: float | None = None
    file: str = ""
    sha256: str = ""
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(light=self.light, scanner=self.scanner)
