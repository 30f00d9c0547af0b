"""Lines of control strips: a batch as it was made, what a strip read after a run, and which runs set the aim."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from wetside.book.body import Body, things
from wetside.book.line import Thing


@dataclass(frozen=True, kw_only=True)
class StripBatch(Body):
    """Home control strips made together: even grey-scale frames of one stock, aged, frozen and cut, a piece a run.

    `steps` names the steps of a strip, from the least exposed (1), that stand for D-min, LD, MD and HD.
    """

    kind: ClassVar[str] = "strip batch"
    batch: str
    stock: str
    process: str = "ecn-2"
    gauge: str = "135"
    strips: int | None = None
    steps: tuple[int, ...] = ()  # D-min, LD, MD, HD
    exposed_on: str | None = None
    frozen_on: str | None = None
    camera: str | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(strip=self.batch, stock=self.stock, camera=self.camera)


@dataclass(frozen=True, kw_only=True)
class StripRead(Body):
    """What one control strip of a batch showed after a run: densities r g b [D] of D-min, LD, MD, HD, and their spread.

    `density` says which: "camera", "status M", or "above base" (then `dmin` is empty). `reference`: it sets the aim.
    `across`: density above the thinnest step from one edge of the film to the other, part by part, 1 in the mean.
    """

    kind: ClassVar[str] = "strip"
    batch: str
    run: str = ""
    process: str = "ecn-2"
    density: str = "camera"
    dmin: dict[str, float] = field(default_factory=dict)
    ld: dict[str, float] = field(default_factory=dict)
    md: dict[str, float] = field(default_factory=dict)
    hd: dict[str, float] = field(default_factory=dict)
    spread: dict[str, float] = field(default_factory=dict)
    reference: bool = False
    file: str = ""
    sha256: str = ""
    calibration: str = ""
    light: str | None = None
    scanner: str | None = None
    across: tuple[dict[str, float], ...] = ()
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(strip=self.batch, run=self.run, light=self.light, scanner=self.scanner)


@dataclass(frozen=True, kw_only=True)
class ControlAim(Body):
    """The runs whose strips, averaged, are the aim of a batch: those that were good."""

    kind: ClassVar[str] = "control aim"
    batch: str
    runs: tuple[str, ...]
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return (*things(strip=self.batch), *(Thing("run", name) for name in self.runs if name))
