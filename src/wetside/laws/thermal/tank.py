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


def carry_over(volume: float, left: float, liquid: float, water: float) -> tuple[float, float]:
    """(part by which the bath is thinned, shift in °C) from `left` mL of water at `water` °C under the bath."""
    part = left / (volume + left)
    return part, part * (water - liquid)


def time_constant_from_log(readings: list[tuple[float, float]], surroundings: float) -> tuple[float, float]:
    """(time constant in s, spread) refitted from (s, °C) readings of one bath left alone.

    Least squares of ln|T − Ts| on t. Needs two readings that are at least 0.5 °C apart from the surroundings.
    """
    points = [(t, math.log(abs(c - surroundings))) for t, c in readings if abs(c - surroundings) > 0.5]
    if len(points) < 2 or points[0][0] == points[-1][0]:
        raise Unusable("two readings at different times, 0.5 °C off the surroundings, are needed", "readings")
    n = len(points)
    mt, my = sum(t for t, _ in points) / n, sum(y for _, y in points) / n
    stt = sum((t - mt) ** 2 for t, _ in points)
    slope = sum((t - mt) * (y - my) for t, y in points) / stt
    if slope >= 0:
        raise Unusable("the readings do not move toward the surroundings", "readings")
    noise = sum((y - my - slope * (t - mt)) ** 2 for t, y in points) / max(1, n - 2)
    return -1 / slope, math.sqrt(noise / stt) / slope**2
