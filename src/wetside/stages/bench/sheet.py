"""The mixing sheet: how much, how hot, what presoak, and what to take care of.

Needs a process and a volume; with the tank's mass and the temperatures of tank and room also the heat. Where the
tank is not known it says which figures that would give.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wetside.laws.chemistry.capacity import ROLL_AREA, agent_used, capacity_area, time_for_use
from wetside.laws.chemistry.mixing import scaled_formula
from wetside.laws.chemistry.processes import Process, Step
from wetside.laws.chemistry.safety import BY_ROLE, GENERAL, cautions_for
from wetside.stages.bench.heat import heat
from wetside.stages.bench.quantities import from_the_taps, of_the_kit, of_the_stock, volumes
from wetside.stages.bench.risks import habits, home_band
from wetside.stages.bench.wanted import Wanted, check


def mixing_sheet(wanted: Wanted) -> dict[str, Any]:
    """The sheet as the JSON of `wetside.mix/1`."""
    check(wanted)
    process, amounts = wanted.process, volumes(wanted)
    volume = amounts["volume_ml"]
    warm = heat(wanted, volume)
    return {
        "schema": "wetside.mix/1",
        "process": process.name,
        "volume_ml": volume,
        "volumes": amounts,
        "baths": [bath(process, step, volume, wanted.on_shelf) for step in process.steps],
        "kit": of_the_kit(wanted, volume),
        "dilution": of_the_stock(wanted, volume),
        "water": from_the_taps(wanted, volume, waters(process, warm)),
        "heat": warm,
        "push": [
            {"stops": p.stops, "low_s": p.low_s, "high_s": p.high_s, "source": p.source} for p in process.push
        ],
        "capacity": capacity(process, volume),
        "risks": risks(process),
        "general_cautions": list(GENERAL),
        "cautions": [*cautions_for([step.role for step in process.steps]), *step_cautions(process)],
    }


def bath(process: Process, step: Step, volume: float, on_shelf: Mapping[str, float]) -> dict[str, Any]:
    """One bath of the sheet: amount, time, temperature, what rival sources say, and its formula where known."""
    formula = scaled_formula(step.role, volume, on_shelf) if process.name == "ecn-2" else ()
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
        "cautions": list(dict.fromkeys([*step.cautions, *BY_ROLE.get(step.role, ())])),
    }


def waters(process: Process, warm: dict[str, Any]) -> list[tuple[str, float]]:
    """(what, °C) of the waters to temper: the presoak, and the aims of the baths, each temperature once."""
    soak = [("Presoak", warm["presoak"]["c"]["value"])] if "presoak" in warm else []
    aims: dict[float, list[str]] = {}
    for step in process.steps:
        aims.setdefault(step.aim_c, []).append(step.name)
    return [*soak, *((", ".join(names), aim) for aim, names in aims.items())]


def step_cautions(process: Process) -> list[str]:
    return [f"{step.name}: {caution}" for step in process.steps for caution in step.cautions]


def capacity(process: Process, volume: float) -> dict[str, Any]:
    """What the developer may be asked to do, by area; what a roll of 80 in² takes out, by two ways, and its time."""
    used = agent_used(ROLL_AREA, volume)
    developer = process.developer()
    longer = [time_for_use(developer.seconds, one) for one in used] if developer else []
    return {
        "area_mm2": capacity_area(volume).as_json(),
        "roll_area_mm2": ROLL_AREA,
        "agent_used_per_roll": [one.as_json() for one in used],
        "second_roll_s": [one.as_json() for one in longer],
        "say": "Two estimates disagree; a control strip per run is the judge. Kits print more rolls than this. "
        "A longer time brings back the mean density of a used developer, not the balance of the layers.",
    }


def risks(process: Process) -> list[dict[str, Any]]:
    """Habits of home practice, with what they may cost."""
    developer = process.developer()
    return [
        *habits([step.role for step in process.steps]),
        *([home_band(process, developer)] if developer else []),
    ]
