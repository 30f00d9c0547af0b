"""The mixing sheet for a process and a tank."""

from __future__ import annotations

from typing import Any

from wetside.laws.chemistry.processes import process_named
from wetside.stages.bench.sheet import mixing_sheet


def mix(
    process: str,
    volume: float,
    *,
    tank_mass: float | None = None,
    tank_temperature: float | None = None,
    room: float | None = None,
    material: str = "plastic",
) -> dict[str, Any]:
    """The sheet as `wetside.mix/1`; `Unusable` for an unknown process or an impossible figure."""
    return mixing_sheet(process_named(process), volume, tank_mass, tank_temperature, room, material)
