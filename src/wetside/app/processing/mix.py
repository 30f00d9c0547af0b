"""The mixing sheet for a process and a tank, from words or from what the book knows of the tank."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from wetside.app.processing.bottles import bottles
from wetside.app.processing.warmth import known_tank, known_thermometer, tank_constants
from wetside.app.shelf import shelf
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.hydrates import NAMES, SALTS
from wetside.laws.chemistry.processes import built_in, process_named
from wetside.laws.chemistry.volumes import loaded
from wetside.stages.bench.sheet import mixing_sheet
from wetside.stages.bench.wanted import Kit, Wanted, Warmth

#: Salts of the formulas that are sold with several waters.
JARS = ("sodium carbonate", "sodium sulfite", "borax")


def mix(
    process: str,
    volume: float | None = None,
    *,
    home: Path | None = None,
    tank: str | None = None,
    thermometer: str | None = None,
    tank_volume: float | None = None,
    tank_reels: int | None = None,
    reels: tuple[tuple[str, float | None], ...] = (),
    warmth: Warmth | None = None,
    kit: Kit | None = None,
    dilution: tuple[float, float] | None = None,
    on_shelf: Mapping[str, float] | None = None,
) -> dict[str, Any]:
    """The sheet as `wetside.mix/1`; `Unusable` for an unknown process, tank or an impossible figure."""
    wanted = Wanted(
        process=process_named(process),
        volume=volume,
        tank_volume=tank_volume,
        tank_reels=1 if tank_reels is None else tank_reels,
        reels=tuple(loaded(gauge, length) for gauge, length in reels),
        warmth=warmth or Warmth(),
        kit=kit,
        dilution=dilution,
        on_shelf=on_shelf or {},
    )
    if home is not None:
        wanted = with_the_book(wanted, home, tank, thermometer, tank_reels)
    elif tank:
        raise Unusable("a tank by name needs a book", "--tank")
    return {**mixing_sheet(wanted), "tank": tank, "thermometer": thermometer}


def choices(home: Path) -> dict[str, Any]:
    """What a form may offer: processes, gauges, jars, the book's tanks and thermometers, and the bottles there are."""
    gear = shelf(home)["gear"]
    return {
        "processes": [{"name": p.name, "title": p.title} for p in built_in().values()],
        "jars": [(name, [(waters, NAMES[waters]) for waters in SALTS[name].hydrates]) for name in JARS],
        "tanks": [thing["name"] for thing in gear if thing["kind"] == "tank"],
        "thermometers": [thing["name"] for thing in gear if thing["kind"] == "thermometer"],
        "bottles": bottles(home),
    }


def with_the_book(
    wanted: Wanted, home: Path, tank: str | None, thermometer: str | None, reels: int | None
) -> Wanted:
    """The same, with what the book says of the tank and the thermometer where nothing else was said."""
    if tank:
        body, warmth = known_tank(home, tank), wanted.warmth
        warmth = replace(
            warmth,
            mass=warmth.mass if warmth.mass is not None else body.get("mass_g"),
            material=body.get("material") or warmth.material,
        )
        wanted = replace(
            wanted,
            warmth=replace(warmth, own_log=tank_constants(home, tank)),
            tank_volume=wanted.tank_volume or body.get("volume_ml"),
            tank_reels=int(body.get("reels") or 1) if reels is None else reels,
        )
        if wanted.volume is None and not wanted.reels:
            wanted = replace(wanted, volume=wanted.tank_volume)
    if thermometer:
        found = known_thermometer(home, thermometer)
        wanted = replace(wanted, warmth=replace(wanted.warmth, thermometer=found.spread))
    return wanted
