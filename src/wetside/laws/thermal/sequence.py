"""The tank through a row of baths: each pour brings liquid, vessel and what was left behind to one temperature.

Heat bookkeeping only: Σ C·T is kept at every pour; between pours the whole drifts to its surroundings.
"""

from __future__ import annotations

from dataclasses import replace

from wetside.laws.thermal.refit import Constants
from wetside.laws.thermal.tank import Tank, drifted, heat_capacity_of_water

#: mL that a drained tank with wet film and reel keeps. Common practice; weigh a drained tank to know yours.
LEFT_BEHIND = 20.0


def with_constants(tank: Tank, constants: Constants) -> Tank:
    """The tank with these constants in place of its prior; its mass stands for the capacity."""
    mass = constants.vessel.value / tank.vessel_capacity * tank.mass if tank.mass else 0.0
    return replace(tank, mass=mass, time_constant=constants.time.value)


def after_pour(tank: Tank, vessel: float, liquid: float, left: float = 0.0) -> float:
    """°C after `liquid` °C went into a vessel at `vessel` °C that still held `left` mL."""
    poured = heat_capacity_of_water(max(tank.volume - left, 1.0))
    old = tank.vessel_capacity + heat_capacity_of_water(left)
    return (poured * liquid + old * vessel) / (poured + old)


def through_baths(
    tank: Tank, vessel: float, around: float, pours: list[tuple[float, float]], left: float = LEFT_BEHIND
) -> list[float]:
    """°C of the vessel after each of the (°C, s) pours, the first into a dry tank."""
    at, kept, found = vessel, 0.0, []
    for liquid, seconds in pours:
        at = drifted(after_pour(tank, at, liquid, kept), around, seconds, tank.time_constant)
        kept = left
        found.append(at)
    return found


def warmth_for_the_baths(
    tank: Tank, vessel: float, around: float, seconds: list[float], wanted: float
) -> float:
    """°C at which all these baths must be poured for the vessel to stand at `wanted` after the last of them."""
    cold, warm = (through_baths(tank, vessel, around, [(c, s) for s in seconds])[-1] for c in (0.0, 1.0))
    return (wanted - cold) / (warm - cold)
