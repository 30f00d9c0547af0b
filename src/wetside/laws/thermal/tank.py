"""How warm the liquid in a tank is: the drop when it is poured in, and its drift to the room or the bath.

A lumped model: liquid, and a vessel (tank with its reel) of known mass. Pour-in brings both to one temperature;
afterwards that temperature drifts to the surroundings with one time constant. Water 4.18 kJ/kg·K and 0.992 kg/L
(checked against CoolProp), plastic 1.5 kJ/kg·K (source computed: the handful of tanks it was reckoned for).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wetside.figures.finding import Unusable

WATER_HEAT = 4.18
WATER_DENSITY = 0.992
VESSEL_HEAT = {"plastic": 1.5, "steel": 0.5}

#: Time constants in s, (surroundings, material): priors of the source "computed", unverified; refit from logs.
TIME_CONSTANTS = {
    ("air", "plastic"): 3750.0,
    ("bath", "plastic"): 600.0,
    ("bath", "steel"): 210.0,
    ("air", "steel"): 3000.0,
}


@dataclass(frozen=True, slots=True)
class Tank:
    """Liquid it takes in mL, mass with reels in g, material, and its drift's time constant in s."""

    volume: float
    mass: float
    material: str = "plastic"
    time_constant: float = 3750.0

    @property
    def liquid_capacity(self) -> float:
        """J/K of the liquid that fills it."""
        return heat_capacity_of_water(self.volume)

    @property
    def vessel_capacity(self) -> float:
        """J/K of the vessel and reel."""
        return self.mass * VESSEL_HEAT[self.material]


def tank_of(volume: float, mass: float, material: str = "plastic", surroundings: str = "air") -> Tank:
    """A tank with the prior time constant of its surroundings; `Unusable` for what no tank is."""
    if not 20 <= volume <= 20_000:
        raise Unusable(f"a tank takes 20 to 20000 mL; found {volume:g}", "volume")
    if not 0 <= mass <= 10_000:
        raise Unusable(f"a tank weighs 0 to 10000 g; found {mass:g}", "tank mass")
    if material not in VESSEL_HEAT:
        raise Unusable(f"material is one of {', '.join(VESSEL_HEAT)}; found {material!r}", "material")
    return Tank(volume, mass, material, TIME_CONSTANTS[surroundings, material])


def heat_capacity_of_water(volume: float) -> float:
    """J/K of `volume` mL of water."""
    return volume * WATER_DENSITY * WATER_HEAT


def pour_in_temperature(tank: Tank, liquid: float, vessel: float) -> float:
    """°C after liquid and vessel have come to one temperature. T = Σ C·T / Σ C."""
    c, v = tank.liquid_capacity, tank.vessel_capacity
    return (c * liquid + v * vessel) / (c + v)


def bottle_temperature(tank: Tank, wanted: float, vessel: float) -> float:
    """°C the bottle must have for the filled tank to stand at `wanted`."""
    return wanted + (wanted - vessel) * tank.vessel_capacity / tank.liquid_capacity


def after_presoaks(tank: Tank, vessel: float, water: float, changes: int) -> float:
    """°C of the vessel after so many fills of water that each came to balance and were drained."""
    for _ in range(changes):
        vessel = pour_in_temperature(tank, water, vessel)
    return vessel


def presoak_temperature(tank: Tank, vessel: float, wanted: float, changes: int = 1) -> float:
    """°C of presoak water that leaves the vessel at `wanted` after so many changes."""
    share = tank.vessel_capacity / (tank.vessel_capacity + tank.liquid_capacity)
    left = share**changes
    return (wanted - left * vessel) / (1 - left)


def drifted(start: float, surroundings: float, seconds: float, time_constant: float) -> float:
    """°C after drifting for so long: T = Ts + (T0 − Ts)·e^(−t/τ)."""
    return surroundings + (start - surroundings) * math.exp(-seconds / time_constant)


def mean_over(start: float, surroundings: float, seconds: float, time_constant: float) -> float:
    """Mean °C over the drift from `start`."""
    x = seconds / time_constant
    return surroundings + (start - surroundings) * (-math.expm1(-x) / x if x > 0 else 1.0)


def start_for_mean(mean: float, surroundings: float, seconds: float, time_constant: float) -> float:
    """°C to start from so that the mean over the step is `mean`."""
    x = seconds / time_constant
    return surroundings + (mean - surroundings) / (-math.expm1(-x) / x if x > 0 else 1.0)
