"""The mixing sheet: how much, how hot, what presoak, and what to take care of.

Needs a process and a volume; with the tank's mass and the temperatures of tank and room also the heat. Where the
tank is not known it says which figures that would give.
"""

from __future__ import annotations

from typing import Any

from wetside.figures.figure import Figure
from wetside.figures.finding import CannotSay, Unusable
from wetside.laws.chemistry.capacity import ROLL_AREA, agent_used, capacity_area
from wetside.laws.chemistry.mixing import scaled_formula
from wetside.laws.chemistry.processes import Process, Step
from wetside.laws.chemistry.safety import cautions_for
from wetside.laws.thermal.rate import rate
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
)  # fmt: skip

#: No bath and no presoak is asked to be hotter (°C): gelatin softens, plastic and hands suffer. Common practice.
HOTTEST = 45.0


def mixing_sheet(
    process: Process,
    volume: float,
    tank_mass: float | None,
    tank_temperature: float | None,
    room: float | None,
    material: str = "plastic",
) -> dict[str, Any]:
    """The sheet as the JSON of `wetside.mix/1`."""
    if not 20 <= volume <= 20_000:
        raise Unusable(f"--volume is from 20 to 20000 mL; found {volume:g}", "--volume")
    for name, value in (("--tank-c", tank_temperature), ("--room-c", room)):
        if value is not None and not 0 <= value <= 60:
            raise Unusable(f"{name} is from 0 to 60 °C; found {value:g}", name)
    roles = [step.role for step in process.steps]
    return {
        "schema": "wetside.mix/1",
        "process": process.name,
        "volume_ml": volume,
        "baths": [bath(process, step, volume) for step in process.steps],
        "heat": heat(process, volume, tank_mass, tank_temperature, room, material),
        "push": [
            {"stops": p.stops, "low_s": p.low_s, "high_s": p.high_s, "source": p.source} for p in process.push
        ],
        "capacity": capacity(volume),
        "cautions": [*cautions_for(roles), *step_cautions(process)],
    }


def bath(process: Process, step: Step, volume: float) -> dict[str, Any]:
    """One bath of the sheet: amount, time, temperature, what rival sources say, and its formula where known."""
    formula = scaled_formula(step.role, volume) if process.name == "ecn-2" else ()
    return {
        "name": step.name,
        "role": step.role,
        "volume_ml": volume,
        "seconds": step.seconds,
        "kind": step.kind,
        "aim_c": step.aim_c,
        "low_c": step.low_c,
        "high_c": step.high_c,
        "safe_hold_s": step.safe_hold_s,
        "source": step.source,
        "rivals": [{"say": rival.say, "source": rival.source} for rival in step.rivals],
        "formula": [{"name": p.name, "amount": round(p.per_litre, 4), "unit": p.unit} for p in formula],
        "formula_source": "bench-memory" if formula else None,
    }


def step_cautions(process: Process) -> list[str]:
    return [f"{step.name}: {caution}" for step in process.steps for caution in step.cautions]


def capacity(volume: float) -> dict[str, Any]:
    """What the developer may be asked to do, by area; and what a roll of 80 in² takes out, by two ways."""
    one, other = agent_used(ROLL_AREA, volume)
    return {
        "area_mm2": capacity_area(volume).as_json(),
        "roll_area_mm2": ROLL_AREA,
        "agent_used_per_roll": [one.as_json(), other.as_json()],
        "say": "Two estimates disagree; a control strip per run is the judge. Kits print more rolls than this.",
    }


def heat(
    process: Process,
    volume: float,
    mass: float | None,
    tank_c: float | None,
    room: float | None,
    material: str,
) -> dict[str, Any]:
    """Pour-in, presoak and bottle for the developer's mean to stand at its aim, and whether the tank can hold it."""
    developer = process.developer()
    if developer is None:
        return CannotSay("this process has no developer", "a process with a developer").as_json()
    if mass is None:
        return CannotSay(
            "the pour-in drop depends on what the tank weighs", "--tank-g with reels, on a kitchen scale"
        ).as_json()
    tank = tank_of(volume, mass, material)
    around = room if room is not None else 21.0
    vessel = tank_c if tank_c is not None else around
    return heat_of(process, developer, tank, vessel, around)


def heat_of(process: Process, developer: Step, tank: Tank, vessel: float, around: float) -> dict[str, Any]:
    aim, tau = developer.aim_c, tank.time_constant
    begin = start_for_mean(aim, around, developer.seconds, tau)
    unhelped = pour_in_temperature(tank, aim, vessel)
    mean = mean_over(unhelped, around, developer.seconds, tau)
    bottle = bottle_temperature(tank, begin, vessel)
    changes = next((n for n in (1, 2, 3) if presoak_temperature(tank, vessel, begin, n) <= HOTTEST), 3)
    presoak = presoak_temperature(tank, vessel, begin, changes)
    soaked = after_presoaks(tank, vessel, min(presoak, HOTTEST), changes)
    best = bottle_temperature(tank, begin, soaked)
    end = drifted(begin, around, developer.seconds, tau)
    half_band = (developer.high_c - developer.low_c) / 2
    seconds = developer.seconds
    return {
        "tank_c": vessel,
        "room_c": around,
        "developer_aim_c": aim,
        "start_c": figure(begin, 0.2),
        "end_c": figure(end, 0.2),
        "unhelped_start_c": figure(unhelped, 0.3),
        "unhelped_mean_c": figure(mean, 0.3),
        "unhelped_equivalent_s": {
            "value": seconds * rate(mean, aim, process.q10),
            "low": seconds * rate(mean, aim, process.q10 + 2 * process.q10_spread),
            "high": seconds * rate(mean, aim, process.q10 - 2 * process.q10_spread),
            "source": process.q10_source,
        },
        "bottle_without_presoak_c": figure(bottle, 0.3),
        "bottle_without_presoak_advised": bottle <= HOTTEST,
        "presoak": {
            "c": figure(min(presoak, HOTTEST), 0.3),
            "changes": changes,
            "bottle_c": figure(best, 0.3),
        },
        "holds_tolerance": begin - end <= 2 * half_band,
        "drift_c": begin - end,
        "tolerance_c": half_band,
        "say": holding(begin - end, half_band),
    }


def figure(value: float, spread: float) -> dict[str, object]:
    return Figure(round(value, 2), spread, "°C", "computed").as_json()


def holding(drift: float, half_band: float) -> str:
    """Whether this tank can stay within the tolerance during the developer step."""
    if drift <= 2 * half_band:
        return f"It drifts {drift:.2f} °C during the developer: ±{half_band:g} °C can be held."
    return (
        f"It drifts {drift:.2f} °C during the developer: ±{half_band:g} °C cannot be held in air, only its mean; "
        "stand the tank in a water bath at the aim. Time mends the mean density, not the balance of the layers."
    )
