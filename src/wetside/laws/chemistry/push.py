"""The developer's time for a push, where sources differ: the middle of what they print, and all of them shown.

A push lengthens the developer alone. It raises contrast more than speed, and the layers part: no time repairs that.
"""

from __future__ import annotations

from dataclasses import replace

from wetside.figures.finding import Unusable
from wetside.laws.chemistry.processes import Process, Push, Rival

OWN = "user"


def pushed(process: Process, stops: int, own_time: float | None = None) -> Process:
    """The process with its developer timed for so many stops, or for an own time in s, which rules.

    `Unusable` where no source gives a time (every pull: none was found), unless an own time is given.
    """
    developer = process.developer()
    if (stops == 0 and own_time is None) or developer is None:
        return process
    rows = [row for row in process.push if row.stops == stops]
    if own_time is None and not rows:
        known = ", ".join(f"{n:+d}" for n in sorted({row.stops for row in process.push})) or "none"
        raise Unusable(
            f"no source gives a developer time for {stops:+d} stops in {process.name}; known: {known}. "
            "Give a time of your own (developer_s)",
            "push_stops",
        )
    seconds = own_time if own_time is not None else middle(rows)
    printed = Rival(f"unpushed it is {clock(developer.seconds)}", developer.source)
    aimed = replace(
        developer,
        seconds=seconds,
        source=OWN if own_time is not None else rows[0].source,
        rivals=(*(said(row) for row in rows), printed, *developer.rivals),
    )
    return replace(process, steps=tuple(aimed if step is developer else step for step in process.steps))


def middle(rows: list[Push]) -> float:
    """s in the middle of all that the sources print."""
    return (min(row.low_s for row in rows) + max(row.high_s for row in rows)) / 2


def said(row: Push) -> Rival:
    """A push as one line with its source: push 1: 3:40."""
    span = clock(row.low_s) if row.low_s == row.high_s else f"{clock(row.low_s)} to {clock(row.high_s)}"
    return Rival(f"push {row.stops}: {span}", row.source)


def clock(seconds: float) -> str:
    """Seconds as minutes and seconds, m:ss."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"
