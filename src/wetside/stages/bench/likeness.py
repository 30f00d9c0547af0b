"""Which question: what did a step have in the run that this one follows.

Needs that run's process and state. It is told in words for the sink, step by step: the film time, the mean of what was
read in the tank, what a developer's time was worth at the aim, the turns. What was not tapped there is left out.
"""

from __future__ import annotations

from collections.abc import Sequence

from wetside.laws.chemistry.processes import Process, Step
from wetside.stages.bench.run import State, tank_readings


def as_it_was(process: Process, state: State, steps: Sequence[Step]) -> list[str]:
    """For each of the `steps` of another run what the step of that name had in this one; empty where nothing was tapped."""
    had = {step.name: words_of(process, state, row) for step, row in zip(process.steps, state["steps"])}
    return [had.get(step.name, "") for step in steps]


def words_of(process: Process, state: State, row: State) -> str:
    """What a step had, in words: seconds and turns as tapped, °C as corrected."""
    if row["skipped"]:
        return "was skipped"
    if row["film_s"] is None:
        return ""
    minutes, seconds = divmod(round(row["film_s"]), 60)
    read = [celsius for _, celsius in tank_readings(process, state, row)]
    parts = (
        f"had {minutes}:{seconds:02d}",
        f"at {sum(read) / len(read):.1f} °C" if read else "",
        f"worth {row['worth_s']:.0f} s" if row["worth_s"] is not None else "",
        f"{row['turns']} turns" if row["turns"] else "",
    )
    return ", ".join(part for part in parts if part)
