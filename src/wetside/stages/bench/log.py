"""Which question: what do the temperatures of past runs say of the tank itself.

Needs runs whose temperatures were read in the tank, with the room's. The bottle's before the pour tells the drop,
two readings of one bath tell the drift. A run that stood in a water bath says nothing of the tank in air.
"""

from __future__ import annotations

from wetside.laws.chemistry.processes import Process
from wetside.laws.thermal.refit import Standing
from wetside.stages.bench.run import State, tank_readings

#: s after the tank is full from which a reading counts: liquid, reel and wall need a moment to agree.
SETTLED = 20.0


def standings(process: Process, state: State, liquid: float, room: float | None) -> list[Standing]:
    """The baths of a run as lone standing ones; none where the room was not read or a water bath was used."""
    around = read_of(process, state, "room", float("inf")) if room is None else room
    if around is None or read_of(process, state, "bath", float("inf")) is not None:
        return []
    found: list[Standing] = []
    vessel: float | None = dry_vessel(process, state, around)
    for row in state["steps"]:
        if row["filled_at"] is None:
            continue
        read = tank_readings(process, state, row)
        ready = (row["full_at"] or row["filled_at"]) + SETTLED
        late = tuple((at - ready + SETTLED, celsius) for at, celsius in read if at >= ready)
        bottle = read_of(process, state, "bottle", row["filled_at"], row["filled_at"] - 600)
        if late:
            found.append(Standing(liquid, bottle, vessel, around, late))
        vessel = read[-1][1] if read else None
    return found


def dry_vessel(process: Process, state: State, around: float) -> float:
    """°C of the tank before the first pour: as read in it, else the room's."""
    first = next((row["filled_at"] for row in state["steps"] if row["filled_at"] is not None), float("inf"))
    found = read_of(process, state, "tank", first)
    return around if found is None else found


def read_of(
    process: Process, state: State, of: str, before: float, after: float = float("-inf")
) -> float | None:
    """The last °C read of a place before a time, corrected by the thermometer's comparison."""
    kept = [e for e in state["temperatures"] if e["of"] == of and after <= e["at"] < before]
    return kept[-1]["celsius"] + process.correction_c if kept else None
