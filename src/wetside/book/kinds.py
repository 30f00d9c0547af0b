"""The kinds of line, as frozen dataclasses. A kind lives for ever: add fields with defaults, or a new version.

Each kind says which things it touches (`touches()`); the book derives lives from that alone.
Suffixes give the units at this door: _mm, _ml, _c (°C), _g, _s, _mm2, _on (ISO date).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import ClassVar

from wetside.book.body import Body as Body
from wetside.book.body import things as things
from wetside.book.light import Calibrated as Calibrated
from wetside.book.light import LightSeen as LightSeen
from wetside.book.line import Thing
from wetside.book.planned import Planned as Planned
from wetside.book.strips import ControlAim as ControlAim
from wetside.book.strips import StripBatch as StripBatch
from wetside.book.strips import StripRead as StripRead


@dataclass(frozen=True, kw_only=True)
class StockNoted(Body):
    """A film stock as bought: rated index, balance, backing, what is printed on the can."""

    kind: ClassVar[str] = "stock"
    stock: str
    process: str = "ecn-2"
    rated_ei: float | None = None
    balance: str = "unknown"  # daylight | tungsten | unknown
    backing: str = "unknown"  # rem-jet | none | unknown
    expires_on: str | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(stock=self.stock)


@dataclass(frozen=True, kw_only=True)
class RollLoaded(Body):
    """A length of stock cut, loaded or bought for one camera; `twin_of` names a frozen or sent twin."""

    kind: ClassVar[str] = "roll"
    roll: str
    stock: str
    gauge: str  # 16still | 16cine | 110 | 135
    length_mm: float | None = None
    camera: str | None = None
    twin_of: str | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(roll=self.roll, stock=self.stock, camera=self.camera)


@dataclass(frozen=True, kw_only=True)
class Exposed(Body):
    """Exposure notes of one frame or a stretch of frames. `stops` is over (+) or under (−) the meter at `ei`."""

    kind: ClassVar[str] = "exposed"
    roll: str
    first_frame: int
    last_frame: int
    ei: float | None = None
    stops: float = 0.0
    light: str = ""  # daylight | tungsten | mixed | …
    filter: str = ""
    subject: str = ""  # "grey scale", "flat", … are understood by stages
    camera: str | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(roll=self.roll, camera=self.camera)


@dataclass(frozen=True, kw_only=True)
class KitBought(Body):
    """A kit: price, what it makes, how much film area it is said to process."""

    kind: ClassVar[str] = "kit"
    kit: str
    process: str = "ecn-2"
    price: float | None = None
    makes_ml: float | None = None
    area_mm2: float | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(kit=self.kit)


@dataclass(frozen=True, kw_only=True)
class BathMixed(Body):
    """A bath made up: its role, volume and origin. `from_bath` when poured over; `bottle`: full, half or open."""

    kind: ClassVar[str] = "bath"
    bath: str
    role: str  # prebath | developer | stop | bleach | fixer | final rinse | …
    volume_ml: float
    process: str = "ecn-2"
    kit: str | None = None
    from_bath: str | None = None
    ph: float | None = None
    bottle: str = ""
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return (*things(bath=self.bath, kit=self.kit), *things(bath=self.from_bath))


@dataclass(frozen=True, kw_only=True)
class BathEmptied(Body):
    """A bottle emptied: the bath leaves the shelf, and what it did stays. `to`: where it went."""

    kind: ClassVar[str] = "bath emptied"
    bath: str
    to: str = ""
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(bath=self.bath)


@dataclass(frozen=True, kw_only=True)
class TankOwned(Body):
    """A tank: what it holds, weighs and is made of; shapes of plastic and steel differ thermally."""

    kind: ClassVar[str] = "tank"
    tank: str
    volume_ml: float | None = None
    mass_g: float | None = None
    material: str = "plastic"
    reels: int = 1
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(tank=self.tank)


@dataclass(frozen=True, kw_only=True)
class ReelOwned(Body):
    """A spiral reel: inner radius and groove pitch where known."""

    kind: ClassVar[str] = "reel"
    reel: str
    gauge: str = "135"
    inner_radius_mm: float | None = None
    pitch_mm: float | None = None
    material: str = "plastic"
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(reel=self.reel)


@dataclass(frozen=True, kw_only=True)
class ThermometerChecked(Body):
    """A thermometer compared with a reference: what it read and what was true."""

    kind: ClassVar[str] = "thermometer"
    thermometer: str
    read_c: float | None = None
    true_c: float | None = None
    spread_c: float = 0.1
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(thermometer=self.thermometer)


@dataclass(frozen=True, kw_only=True)
class GearNoted(Body):
    """A camera, light or scanner: what kind of thing, and notes."""

    kind: ClassVar[str] = "gear"
    gear_kind: str  # camera | light | scanner | laboratory
    name: str
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(**{self.gear_kind: self.name})


@dataclass(frozen=True, kw_only=True)
class RunStarted(Body):
    """One processing of one tank. `rolls` say which reel each was on and which end lay at the core.

    rolls: [{"roll": "R01", "reel": "A", "core": "head" | "tail" | "", "edge": "perforated" | "opposite" | ""}];
    `edge` is the edge of the film that lies lower in the tank: the pour meets it first
    baths: {role of the step: name of the bath}
    push_stops: developed for so many stops of push; developer_s: an own developer time, which rules
    like: an earlier run that was good, which this one follows
    """

    kind: ClassVar[str] = "run"
    run: str
    process: str
    tank: str | None = None
    thermometer: str | None = None
    rolls: tuple[dict[str, str], ...] = ()
    baths: dict[str, str] = field(default_factory=dict)
    room_c: float | None = None
    push_stops: int = 0
    developer_s: float | None = None
    like: str = ""
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        rolls = tuple(
            t for entry in self.rolls for t in things(roll=entry.get("roll"), reel=entry.get("reel"))
        )
        baths = tuple(Thing("bath", name) for name in self.baths.values() if name)
        return (*things(run=self.run, tank=self.tank, thermometer=self.thermometer), *rolls, *baths)


@dataclass(frozen=True, kw_only=True)
class RunEvent(Body):
    """Something that happened during a run: a pour, a temperature, a deviation. Fields depend on `event`."""

    kind: ClassVar[str] = "run event"
    run: str
    event: str
    fields: dict[str, object] = field(default_factory=dict)

    def touches(self) -> tuple[Thing, ...]:
        return things(run=self.run)


@dataclass(frozen=True, kw_only=True)
class ScanAttached(Body):
    """A file that shows a frame of a roll; pixels stay outside, referred to by hash."""

    kind: ClassVar[str] = "scan"
    roll: str
    file: str
    sha256: str
    frame: int | None = None
    role: str = "frame"  # frame | open gate | dark | flat | strip
    turn: int = 0
    mirrored: bool = False
    film_mm: float | None = None
    px_per_mm: float | None = None
    light: str | None = None
    scanner: str | None = None
    exposure_s: float | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(roll=self.roll, light=self.light, scanner=self.scanner)


@dataclass(frozen=True, kw_only=True)
class Measured(Body):
    """What was read from scans: a contract object (`wetside.read/1` …) and the versions of the laws behind it."""

    kind: ClassVar[str] = "measured"
    roll: str
    what: str
    result: dict[str, object]
    scans: tuple[str, ...] = ()
    laws: dict[str, str] = field(default_factory=dict)

    def touches(self) -> tuple[Thing, ...]:
        return things(roll=self.roll)


@dataclass(frozen=True, kw_only=True)
class PrintTrim(Body):
    """Density added to a frame when it is printed, r g b [D]: more prints lighter. No `file`: the whole roll's balance."""

    kind: ClassVar[str] = "print trim"
    roll: str
    file: str = ""
    r: float = 0.0
    g: float = 0.0
    b: float = 0.0

    def touches(self) -> tuple[Thing, ...]:
        return things(roll=self.roll)


@dataclass(frozen=True, kw_only=True)
class PrintGreys(Body):
    """Places of a roll that were grey before the camera, "FILE:x,y,w,h" in pixels of the file; none takes them back."""

    kind: ClassVar[str] = "print greys"
    roll: str
    spots: tuple[str, ...] = ()

    def touches(self) -> tuple[Thing, ...]:
        return things(roll=self.roll)


@dataclass(frozen=True, kw_only=True)
class ParcelMoved(Body):
    """A parcel to or from a laboratory, with the rolls in it."""

    kind: ClassVar[str] = "parcel"
    parcel: str
    laboratory: str
    rolls: tuple[str, ...]
    way: str = "sent"  # sent | returned
    cost: float | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return (
            *things(parcel=self.parcel, laboratory=self.laboratory),
            *(Thing("roll", name) for name in self.rolls),
        )


@dataclass(frozen=True, kw_only=True)
class Judged(Body):
    """The user's word: on a mark (confirmed, not one, drawn), an answer to a question, a test's outcome."""

    kind: ClassVar[str] = "judged"
    roll: str
    about: str  # mark | question | test | frame | cause
    subject: str
    answer: str
    fields: dict[str, object] = field(default_factory=dict)

    def touches(self) -> tuple[Thing, ...]:
        return things(roll=self.roll)


@dataclass(frozen=True, kw_only=True)
class Issued(Body):
    """A figure carried to a shoot, with the lines and the versions of the laws behind it."""

    kind: ClassVar[str] = "issued"
    stock: str
    figure: str
    value: float
    spread: float | None = None
    unit: str = ""
    rests_on: tuple[str, ...] = ()
    laws: dict[str, str] = field(default_factory=dict)
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(stock=self.stock)


@dataclass(frozen=True, kw_only=True)
class ProcessDefined(Body):
    """The user's own process or variant: steps as `laws/chemistry` reads them."""

    kind: ClassVar[str] = "process"
    process: str
    steps: tuple[dict[str, object], ...]
    after: str | None = None
    note: str = ""

    def touches(self) -> tuple[Thing, ...]:
        return things(process=self.process)


@dataclass(frozen=True, kw_only=True)
class Correction(Body):
    """Strikes an earlier line through. `instead` names the line that replaces it, if any."""

    kind: ClassVar[str] = "correction"
    strikes: str
    reason: str = ""
    instead: str | None = None


@dataclass(frozen=True, kw_only=True)
class Note(Body):
    """Free words about any things."""

    kind: ClassVar[str] = "note"
    text: str
    about: tuple[str, ...] = ()

    def touches(self) -> tuple[Thing, ...]:
        return tuple(Thing.parse(text) for text in self.about)


KINDS: dict[str, type[Body]] = {
    body.kind: body
    for body in (
        StockNoted, RollLoaded, Exposed, KitBought, BathMixed, BathEmptied, TankOwned, ReelOwned, ThermometerChecked,
        GearNoted, RunStarted, RunEvent, ScanAttached, Measured, PrintTrim, PrintGreys, StripBatch, StripRead, ControlAim, Calibrated, LightSeen, ParcelMoved, Judged, Issued,
        Planned, ProcessDefined, Correction, Note,
    )
}  # fmt: skip
