"""Which question: how warm must everything be for the developer's mean to stand at its aim, and can this tank do it.

Needs the mass of the tank; better with the temperatures of tank and room, best with a log of the tank's own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from wetside.figures.figure import Figure
from wetside.figures.finding import CannotSay
from wetside.laws.chemistry.processes import Process, Step
from wetside.laws.thermal.rate import rate
from wetside.laws.thermal.refit import Constants, prior_constants
from wetside.laws.thermal.sequence import (
    LEFT_BEHIND,
    after_pour,
    through_baths,
    warmth_for_the_baths,
    with_constants,
)
from wetside.laws.thermal.tank import (
    Tank,
    after_presoaks,
    bottle_temperature,
    drifted,
    mean_over,
    pour_in_temperature,
    presoak_temperature,
    start_for_mean,
    tank_of,
)
from wetside.stages.bench.wanted import Wanted

#: No bath and no presoak is asked to be hotter (°C): gelatin softens, plastic and hands suffer. Common practice.
HOTTEST = 45.0
#: °C of room, and spread of a thermometer that was never compared with another. Common practice.
ROOM, UNCHECKED = 21.0, 0.3


@dataclass(frozen=True, slots=True)
class Place:
    """The tank where it stands: °C of the vessel before the first pour, of what is around it, and what that is."""

    tank: Tank
    vessel: float
    around: float
    stands_in: str
    constants: Constants
    thermometer: float


def heat(wanted: Wanted, volume: float) -> dict[str, Any]:
    """Pour-in, presoak and bottle for the developer's mean, and the chance that it lands within the tolerance."""
    developer = wanted.process.developer()
    if developer is None:
        return CannotSay("this process has no developer", "a process with a developer").as_json()
    if wanted.warmth.mass is None:
        return CannotSay(
            "the pour-in drop depends on what the tank weighs", "--tank-g with reels, on a kitchen scale"
        ).as_json()
    return heat_of(wanted.process, developer, place(wanted, volume))


def place(wanted: Wanted, volume: float) -> Place:
    warmth = wanted.warmth
    assert warmth.mass is not None
    stands_in = "air" if warmth.bath is None else "bath"
    room = warmth.room if warmth.room is not None else ROOM
    tank = tank_of(volume, warmth.mass, warmth.material, stands_in)
    own = warmth.own_log if warmth.own_log is not None and stands_in == "air" else prior_constants(tank)
    return Place(
        tank=with_constants(tank, own),
        vessel=warmth.tank if warmth.tank is not None else room,
        around=room if warmth.bath is None else warmth.bath,
        stands_in=stands_in,
        constants=own,
        thermometer=warmth.thermometer if warmth.thermometer is not None else UNCHECKED,
    )


def heat_of(process: Process, developer: Step, there: Place) -> dict[str, Any]:
    """The heat of the sheet, every temperature with its spread."""
    tank, around, seconds, aim = there.tank, there.around, developer.seconds, developer.aim_c
    begin = start_for_mean(aim, around, seconds, tank.time_constant)
    unhelped = pour_in_temperature(tank, aim, there.vessel)
    bottle = bottle_temperature(tank, begin, there.vessel)
    end = drifted(begin, around, seconds, tank.time_constant)
    half_band = (developer.high_c - developer.low_c) / 2
    return {
        "tank_c": there.vessel,
        "room_c": around,
        "stands_in": there.stands_in,
        "constants": {
            "vessel_j_k": there.constants.vessel.as_json(),
            "time_constant_s": there.constants.time.as_json(),
            "readings": there.constants.readings,
        },
        "developer_aim_c": aim,
        "start_c": figure(begin, 0.2),
        "end_c": figure(end, 0.2),
        "unhelped_start_c": figure(unhelped, drop_spread(there, aim)),
        "unhelped_mean_c": figure(
            mean_over(unhelped, around, seconds, tank.time_constant), drop_spread(there, aim)
        ),
        "unhelped_equivalent_s": worth_of(
            process, seconds, aim, mean_over(unhelped, around, seconds, tank.time_constant)
        ),
        "bottle_without_presoak_c": figure(bottle, drop_spread(there, bottle)),
        "bottle_without_presoak_advised": bottle <= HOTTEST,
        "presoak": presoak(there, begin),
        "baths_before": baths_before(process, there, begin, aim),
        "holds_tolerance": abs(begin - end) <= 2 * half_band,
        "drift_c": begin - end,
        "tolerance_c": half_band,
        "reach": reach(there, developer, begin, half_band),
        "say": holding(begin - end, half_band, there.stands_in),
    }


def presoak(there: Place, begin: float) -> dict[str, Any]:
    """Water, changes and bottle that bring the vessel to `begin`, none hotter than hands and gelatin bear."""
    soaks = [presoak_temperature(there.tank, there.vessel, begin, n) for n in (1, 2, 3)]
    changes = next((n for n, c in enumerate(soaks, 1) if c <= HOTTEST), 3)
    water = min(soaks[changes - 1], HOTTEST)
    soaked = after_presoaks(there.tank, there.vessel, water, changes)
    bottle = bottle_temperature(there.tank, begin, soaked)
    return {
        "c": figure(water, 0.3),
        "changes": changes,
        "bottle_c": figure(min(bottle, HOTTEST), 0.3),
        "reaches": bottle <= HOTTEST + 0.05,
    }


def baths_before(process: Process, there: Place, begin: float, aim: float) -> dict[str, Any] | None:
    """The prebath and rinse as part of the heat: where they leave the tank at their aims, and how warm to pour them."""
    names = [step.role for step in process.steps]
    before = process.steps[: names.index("developer")]
    if not before:
        return None
    left = through_baths(
        there.tank, there.vessel, there.around, [(step.aim_c, step.seconds) for step in before]
    )
    lands = after_pour(there.tank, left[-1], aim, LEFT_BEHIND)
    warm = warmth_for_the_baths(
        there.tank, there.vessel, there.around, [step.seconds for step in before], begin
    )
    return {
        "at_their_aims": [
            {"name": step.name, "tank_c": round(c, 2)} for step, c in zip(before, left, strict=True)
        ],
        "developer_lands_at_c": figure(lands, drop_spread(there, aim)),
        "pour_them_at_c": figure(min(warm, HOTTEST), 0.4),
        "enough_alone": warm <= HOTTEST,
        "left_behind_ml": LEFT_BEHIND,
    }


def reach(there: Place, developer: Step, begin: float, half_band: float) -> dict[str, Any]:
    """Chance that the developer's mean lands within the tolerance when the plan is followed, and what decides it."""
    tank, around = there.tank, there.around
    time = replace(there.constants.time, value=there.constants.time.value)
    fading = [
        mean_over(begin, around, developer.seconds, max(time.value + sign * (time.spread or 0.0), 60.0))
        for sign in (-0.9, 0.9)
    ]
    drift, soaked = abs(fading[1] - fading[0]) / 1.8, presoak_spread(there, begin)
    spread = math.hypot(there.thermometer, drift, soaked)
    chance = math.erf(half_band / spread / math.sqrt(2)) if spread else 1.0
    worst = max(
        (there.thermometer, "the thermometer"), (drift, "the drift of the tank"), (soaked, "the presoak")
    )[1]
    return {
        "mean_c": figure(mean_over(begin, around, developer.seconds, tank.time_constant), round(spread, 3)),
        "chance": round(chance, 3),
        "decided_by": worst,
        "say": f"±{half_band:g} °C of the mean {word(chance)}: the plan leaves ±{spread:.2f} °C, most of it {worst}.",
    }


def word(chance: float) -> str:
    return "can be reached" if chance > 0.8 else "may be reached" if chance > 0.4 else "cannot be promised"


def presoak_spread(there: Place, begin: float) -> float:
    """°C left in the developer by not knowing the vessel's capacity: a presoak fades it twice."""
    soak = presoak(there, begin)["changes"]
    c, v, s = there.tank.liquid_capacity, there.tank.vessel_capacity, there.constants.vessel.spread or 0.0
    share = v / (c + v)
    return abs(there.vessel - begin) * soak * share**soak * s * c / (c + v) ** 2


def drop_spread(there: Place, bottle: float) -> float:
    """°C of spread of a pour-in by the spread of the vessel's capacity and of the thermometer."""
    c, v, s = there.tank.liquid_capacity, there.tank.vessel_capacity, there.constants.vessel.spread or 0.0
    return round(math.hypot((bottle - there.vessel) * c * s / (c + v) ** 2, there.thermometer), 2)


def worth_of(process: Process, seconds: float, aim: float, mean: float) -> dict[str, Any]:
    """Seconds at the aim that the step at `mean` °C is worth, over the spread of the rate."""
    ends = sorted(seconds * rate(mean, aim, process.q10 + sign * 2 * process.q10_spread) for sign in (-1, 1))
    return {
        "value": seconds * rate(mean, aim, process.q10),
        "low": ends[0],
        "high": ends[1],
        "source": process.q10_source,
    }


def figure(value: float, spread: float) -> dict[str, object]:
    return Figure(round(value, 2), spread, "°C", "computed").as_json()


def holding(drift: float, half_band: float, stands_in: str) -> str:
    """Whether this tank can stay within the tolerance during the developer step."""
    if abs(drift) <= 2 * half_band:
        return f"It drifts {drift:.2f} °C during the developer: ±{half_band:g} °C can be held."
    cure = (
        "stand the tank in a water bath at the aim"
        if stands_in == "air"
        else "bring the water bath to the aim"
    )
    return (
        f"It drifts {drift:.2f} °C during the developer: ±{half_band:g} °C cannot be held, only its mean; "
        f"{cure}. Time mends the mean density, not the balance of the layers."
    )
