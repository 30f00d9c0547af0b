"""What was read from a roll: the types that negative gives and causes, positive and stock take.

Densities in D (base 10). Spread is one standard deviation. Places are pixels of the file as stored.
`as_json` gives the shapes of the `wetside.read/1` contract.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from wetside.figures.channels import RGB, number
from wetside.figures.finding import Finding
from wetside.figures.footing import Footing
from wetside.figures.place import Part, Rectangle
from wetside.figures.spread import Spread

UNKNOWN = RGB(float("nan"), float("nan"), float("nan"))
DensityKind = Literal["camera", "status M", "above base", "none"]


@dataclass(frozen=True, slots=True)
class Base:
    """Density of the unexposed, processed film. `where` says from what: "rebate", "leader", "gaps", …

    With no open gate `density` is relative to the scan's full scale: use it for differences only.
    """

    density: RGB
    spread: RGB
    where: str

    def as_json(self) -> dict[str, object]:
        return {**self.density.as_json(), "spread": self.spread.as_json(), "from": self.where}


@dataclass(frozen=True, slots=True)
class Mark:
    """A local density difference that the picture does not explain.

    `chance`, where a finder gave one, that it is a mark: by itself; of a place that only may be one, beside the whole roll.
    """

    box: Rectangle
    film_mm: float | None
    across: float | None
    delta: RGB
    edge: Literal["sharp", "soft"]
    kind: str
    spread: RGB | None = None
    in_rebate: bool | None = None
    outline: tuple[tuple[int, int], ...] = ()
    chance: float | None = None

    def as_json(self) -> dict[str, object]:
        return {
            **self.box.as_json(),
            "film_mm": number(self.film_mm),
            "across": number(self.across),
            "delta": self.delta.as_json(),
            "edge": self.edge,
            "kind": self.kind,
            "spread": (self.spread or UNKNOWN).as_json(),
            "in_rebate": self.in_rebate,
            "outline": [list(point) for point in self.outline],
            "chance": number(self.chance),
        }


@dataclass(frozen=True, slots=True)
class Flare:
    """Veiling light of one frame: `level` as a transmittance, `share` of the frame's mean light.

    `ceiling`: density [D] over which it leaves more than 0.05 D uncertain; None where that was not reckoned. `uneven`:
    how much of it may be more or less over the picture, one standard deviation as a share. `light`: the light's share
    of the full scale at which `level` holds, the frame's average: where the light is weaker the same veil is more of a
    transmittance. None without an open gate: densities then count from the full scale everywhere. `over`: the veil's share
    of `level` over the frame, rows of cells of three layers; empty where it lies everywhere alike, as far as can be told.
    `unsure`: one standard deviation of `share`.
    """

    level: RGB
    share: float
    ceiling: float | None = None
    uneven: float = 0.2
    light: RGB | None = None
    over: tuple[tuple[RGB, ...], ...] = ()
    unsure: float = 0.0

    def as_json(self) -> dict[str, object]:
        over = [[list(cell) for cell in row] for row in self.over]
        return {**self.level.as_json(), "share": number(self.share), "ceiling": number(self.ceiling), "uneven": number(self.uneven),
                "light": self.light.as_json() if self.light else None, "over": over, "unsure": number(self.unsure)}  # fmt: skip


@dataclass(frozen=True, slots=True)
class FrameReading:
    """One frame: where its picture lies and which marks stand on it. `base` is what its own rebate shows [D].

    `perhaps`: places that may be marks, for the user to look at; they count for nothing.
    `flare` is the stray light that was taken off; None when no opaque part shows any. `shift` is by how much it was
    scanned denser than the roll, all layers alike [D]. `sha256` and `exposure_s` are the file's own. `part` is where the
    frame lies in a file of several: `picture` and `marks` are then in pixels of the part, and `as_json` gives those of
    the file. `in_full` False: a frame of a long sequence of which exposure and base alone were measured. `number`: which
    frame of the film it is, from the head; files that cannot be read are counted. `skew`: degrees by which its picture lies turned in
    the scan, clockwise; None where it lies straight or does not tell.
    """

    file: str
    picture: Rectangle
    marks: tuple[Mark, ...] = ()
    base: RGB | None = None
    flare: Flare | None = None
    shift: float = 0.0
    sha256: str = ""
    exposure_s: float | None = None
    part: Part | None = None
    in_full: bool = True
    number: int = 1
    skew: float | None = None
    perhaps: tuple[Mark, ...] = ()

    def as_json(self) -> dict[str, object]:
        return {
            "file": self.file,
            "picture": self._stored(self.picture).as_json(),
            "marks": [self._mark(mark).as_json() for mark in self.marks],
            "perhaps": [self._mark(place).as_json() for place in self.perhaps],
            "flare": self.flare.as_json() if self.flare else None,
            "base": self.base.as_json() if self.base else None,
            "part": self.part.as_json() if self.part else None,
            "shift": number(self.shift),
            "in_full": self.in_full,
            "number": self.number,
            "skew": number(self.skew),
        }

    def _stored(self, box: Rectangle) -> Rectangle:
        return box if self.part is None else self.part.in_file(box)

    def _mark(self, mark: Mark) -> Mark:
        if self.part is None:
            return mark
        outline = tuple(tuple(self._stored(Rectangle(x, y, 0, 0))[:2]) for x, y in mark.outline)
        return replace(mark, box=self._stored(mark.box), outline=outline)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Patch:
    """A rectangle read as a densitometer would. `density` is None where it cannot be read.

    `parts` says what the spread is made of; `grain` [D] how much the film differs from pixel to pixel, noise taken off.
    """

    file: str
    box: Rectangle
    density: RGB | None
    spread: RGB | None
    parts: Spread | None = None
    grain: RGB | None = None

    def as_json(self) -> dict[str, object]:
        nothing = {"r": None, "g": None, "b": None}
        return {
            "file": self.file,
            **self.box.as_json(),
            **(self.density.as_json() if self.density else nothing),
            "spread": self.spread.as_json() if self.spread else dict(nothing),
            "spread_of": self.parts.as_json() if self.parts else None,
            "grain": self.grain.as_json() if self.grain else dict(nothing),
        }


@dataclass(frozen=True, slots=True)
class ProfilePoint:
    """A cast's density [D] at a place across the film: 0 at the scan's top picture edge, 1 at its bottom."""

    across: float
    density: RGB

    def as_json(self) -> dict[str, object]:
        return {"across": number(self.across), **self.density.as_json()}


@dataclass(frozen=True, slots=True)
class Cast:
    """A local cast shared by the frames of a roll. `peak` is signed, the frame's mean removed.

    `parted`: False where a cast of kind "light" may as well be the film's, for nothing parts them.
    """

    found: bool
    kind: Literal["additive", "with density", "light"] | None
    peak: RGB | None
    spread: RGB | None
    basis: str
    remains: float | None
    would_help: str
    anchor: Literal["rebate", "pictures", "flat"] | None = None
    profile: tuple[ProfilePoint, ...] = ()
    parted: bool = True

    def as_json(self) -> dict[str, object]:
        nothing = {"r": None, "g": None, "b": None}
        return {
            "found": self.found,
            "kind": self.kind,
            "peak": self.peak.as_json() if self.peak else dict(nothing),
            "spread": self.spread.as_json() if self.spread else dict(nothing),
            "basis": self.basis,
            "remains": number(self.remains),
            "would_help": self.would_help,
            "anchor": self.anchor,
            "profile": [point.as_json() for point in self.profile],
            "parted": self.parted,
        }


@dataclass(frozen=True, slots=True)
class Geometry:
    """Lengths along the film. None is unknown; `source` says what each rests on.

    Spreads stand beside what was measured. `starts_mm`, one a frame from the first one's start, where frames lie
    unevenly. `perf_edge` is the edge of the scans at which holes were seen.
    """

    frame_pitch_mm: float | None
    perf_pitch_mm: float | None
    px_per_mm: float | None
    source: str
    frame_pitch_spread_mm: float | None = None
    px_per_mm_spread: float | None = None
    perf_edge: Literal["top", "bottom", "both"] | None = None
    starts_mm: tuple[float, ...] = ()

    def as_json(self) -> dict[str, object]:
        return {
            "frame_pitch_mm": number(self.frame_pitch_mm),
            "perf_pitch_mm": number(self.perf_pitch_mm),
            "px_per_mm": number(self.px_per_mm),
            "from": self.source,
            "spread": {
                "frame_pitch_mm": number(self.frame_pitch_spread_mm),
                "px_per_mm": number(self.px_per_mm_spread),
            },
            "perf_edge": self.perf_edge,
            "starts_mm": [round(start, 3) for start in self.starts_mm],
        }


@dataclass(frozen=True, slots=True)
class Pattern:
    """Where the marks lay in the tank, the camera or the machine."""

    answer: Literal["one angle", "touching turns", "perforation", "frame", "scattered", "cannot say"]
    marks: int
    p: float | None
    reason: str
    would_help: str

    def as_json(self) -> dict[str, object]:
        return {
            "answer": self.answer,
            "marks": self.marks,
            "p": number(self.p),
            "reason": self.reason,
            "would_help": self.would_help,
            "fit": None,
        }


@dataclass(frozen=True, slots=True)
class RollReading:
    """All that `read` says of a folder of scans."""

    rung: int
    reasons: tuple[str, ...]
    density: DensityKind
    base: Base | None
    frames: tuple[FrameReading, ...]
    patches: tuple[Patch, ...]
    cast: Cast
    geometry: Geometry
    pattern: Pattern
    findings: tuple[Finding, ...] = field(default=())
    footing: Footing = field(default_factory=Footing)

    def as_json(self) -> dict[str, object]:
        return {
            "schema": "wetside.read/1",
            "rung": self.rung,
            "reasons": list(self.reasons),
            "density": self.density,
            "base": self.base.as_json() if self.base else None,
            "frames": [frame.as_json() for frame in self.frames],
            "patches": [patch.as_json() for patch in self.patches],
            "cast": self.cast.as_json(),
            "geometry": self.geometry.as_json(),
            "pattern": self.pattern.as_json(),
            "footing": self.footing.as_json(),
            "findings": [finding.as_json() for finding in self.findings],
        }
