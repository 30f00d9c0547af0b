"""Which question: what did this run do that the film may show.

Needs the state of a tapped run. Only what was tapped is told: a reading that was not taken, or a bath that was not
poured yet, is left out, never guessed.
"""

from __future__ import annotations

from typing import Any

from wetside.laws.chemistry.processes import Process
from wetside.stages.bench.run import State, tank_readings

#: A figure and the instant it rests on; None: the run's own line.
Deed = tuple[Any, float | None]


def deeds(process: Process, state: State) -> dict[str, Deed]:
    """Developer's temperature [°C off] and film time [s off], stop bath poured or skipped, trouble that was tapped."""
    found: dict[str, Deed] = {}
    for step, row in zip(process.steps, state["steps"]):
        if step.role == "developer" and row["filled_at"] is not None:
            found |= of_the_developer(process, state, row, step.aim_c, step.seconds)
        if step.role == "stop" and (row["skipped"] or row["filled_at"] is not None):
            found["stop_bath_used"] = (not row["skipped"], row["filled_at"])
    troubles = {entry["what"]: entry["at"] for entry in state["deviations"] if during(process, entry)}
    if "missed agitation" in troubles:
        found["missed_agitation"] = (True, troubles["missed agitation"])
    return found


def of_the_developer(
    process: Process, state: State, row: State, aim: float, seconds: float
) -> dict[str, Deed]:
    found: dict[str, Deed] = {}
    readings = tank_readings(process, state, row)
    if readings:
        mean = sum(celsius for _, celsius in readings) / len(readings)
        found["developer_temperature_off_c"] = (mean - aim, readings[-1][0])
    if row["film_s"] is not None:
        found["developer_time_off_s"] = (row["film_s"] - seconds, row["drained_at"])
    return found


def during(process: Process, entry: dict[str, Any]) -> bool:
    """Whether a trouble was tapped while the developer was in the tank."""
    return entry["step"] is not None and process.steps[entry["step"]].role == "developer"
