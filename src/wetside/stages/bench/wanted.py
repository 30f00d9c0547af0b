"""What a mixing sheet is asked for: the process, the tank and what is on the shelf."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from wetside.figures.finding import Unusable
from wetside.laws.chemistry.hydrates import hydrate_factor
from wetside.laws.chemistry.processes import Process
from wetside.laws.chemistry.volumes import Loaded
from wetside.laws.thermal.refit import Constants


@dataclass(frozen=True, slots=True)
class Kit:
    """A kit of liquid concentrates: mL of each part, and what they make in mL. `powder`: bags of several substances."""

    makes: float
    parts: Mapping[str, float]
    powder: bool = False


@dataclass(frozen=True, slots=True)
class Warmth:
    """What decides the heat: g of the tank with reels, °C of tank, room, water bath and taps; None where unknown.

    `own_log`: the tank's constants as its own log gave them; `thermometer`: its spread in °C.
    """

    mass: float | None = None
    tank: float | None = None
    room: float | None = None
    bath: float | None = None
    material: str = "plastic"
    hot: float | None = None
    cold: float | None = None
    own_log: Constants | None = None
    thermometer: float | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """A sheet for a process. `volume` in mL; None: reckon it from the tank (mL over so many reels) and the reels."""

    process: Process
    volume: float | None = None
    tank_volume: float | None = None
    tank_reels: int = 1
    reels: tuple[Loaded, ...] = ()
    warmth: Warmth = Warmth()
    kit: Kit | None = None
    dilution: tuple[float, float] | None = None
    on_shelf: Mapping[str, float] = field(default_factory=dict)


def within(name: str, value: float | None, low: float, high: float, unit: str) -> None:
    """`Unusable` where a figure that is given cannot be one."""
    if value is not None and not low <= value <= high:
        raise Unusable(f"{name} is from {low:g} to {high:g} {unit}; found {value:g}", name)


def check(wanted: Wanted) -> None:
    """`Unusable`, by the name of the option, for what no sheet can be made of."""
    warmth = wanted.warmth
    within("--volume", wanted.volume, 20, 20_000, "mL")
    within("--tank-ml", wanted.tank_volume, 20, 20_000, "mL")
    within("--tank-g", warmth.mass, 0, 10_000, "g")
    for name, value in (("--tank-c", warmth.tank), ("--room-c", warmth.room), ("--bath-c", warmth.bath)):
        within(name, value, 0, 60, "°C")
    for name, value in (("--hot-c", warmth.hot), ("--cold-c", warmth.cold)):
        within(name, value, 0, 100, "°C")
    within("--tank-reels", wanted.tank_reels, 1, 20, "reels")
    for salt, waters in wanted.on_shelf.items():
        hydrate_factor(salt, 0, waters)
    if wanted.volume is None and (wanted.tank_volume is None or not wanted.reels):
        raise Unusable("give --volume, or the tank (--tank, --tank-ml) and its reels (--reel)", "--volume")
