"""Which question: what has this bath done, and what can it still do.

Needs the bath's role, volume, age and the area of film it met. By area and age, never by a count of rolls, and with
a spread: a bath decays, it has no cliff. For a bath without a figure of its own it cannot say, and names the test.
"""

from __future__ import annotations

from typing import Any

from wetside.figures.finding import CannotSay
from wetside.laws.chemistry.capacity import (
    KEEPING,
    agent_used,
    capacity_area,
    left_to_do,
    still_good,
    time_for_use,
)
from wetside.laws.chemistry.processes import built_in
from wetside.laws.reel.gauges import GAUGES
from wetside.laws.thermal.rate import TIME_LIMIT

TESTS = {
    "developer": "a control strip, or an unimportant roll first",
    "bleach": "a strip of exposed, developed film: it must come out of the fixer without a trace of silver",
    "fixer": "a leader: clearing takes twice the fresh time when it is done for",
    "stop": "pH paper: past about 5 it is done for",
}
#: How a bottle is taken to stand where nothing was noted of it.
STANDS = {"developer": "home"}


def bath_state(bath: dict[str, Any], extra: float = 0.0) -> dict[str, Any]:
    """Area done in mm², chance that it works as mixed, and what is left; `extra` mm² is film not yet in the book."""
    role, volume = str(bath["role"]), float(bath["volume_ml"])
    done = float(bath["area_m2"]) * 1e6 + extra
    bottle = str(bath.get("bottle") or STANDS.get(role, "full"))
    good = still_good(role, float(bath["age_days"]), bottle) if (role, bottle) in KEEPING else None
    return {
        "bath": bath["bath"],
        "role": role,
        "process": bath.get("process"),
        "volume_ml": volume,
        "age_days": float(bath["age_days"]),
        "mixed_at": bath.get("mixed_at"),
        "bottle": bottle,
        "runs": list(bath.get("runs", ())),
        "line": bath.get("line"),
        "done_mm2": done,
        "works_as_mixed": good,
        "left": left(role, volume, done, good),
        "longer": longer(bath, role, volume, done),
        "test": TESTS.get(role, "none needed: mix it fresh, it costs little"),
    }


def left(role: str, volume: float, done: float, good: float | None) -> dict[str, Any]:
    """mm² that it can still do; only a developer has a figure for its area."""
    if role != "developer" or good is None:
        return CannotSay(
            f"no figure for the area a {role} bath can do was found", TESTS.get(role, "nothing")
        ).as_json()
    found = left_to_do(capacity_area(volume), done, good)
    film = GAUGES["135"].film_width_mm * 1000
    return {**found.as_json(), "metres_of_135": found.value / film}


def longer(bath: dict[str, Any], role: str, volume: float, done: float) -> dict[str, Any] | None:
    """The developer time in s that its use asks for, by both estimates of its use; None for a fresh or other bath."""
    process = built_in().get(str(bath.get("process") or ""))
    step = process.developer() if process and role == "developer" else None
    if step is None or done <= 0:
        return None
    low, high = (time_for_use(step.seconds, used).value for used in agent_used(done, volume))
    past = high > step.seconds * (1 + TIME_LIMIT)
    return {
        "from_s": low,
        "to_s": high,
        "fresh_s": step.seconds,
        "advised_against": past,
        "say": f"Its use asks for {low:.0f} to {high:.0f} s in place of {step.seconds:.0f}: the estimates disagree. "
        + ("Past 15 % more, mix it fresh. " if past else "")
        + "Time brings back the mean density, not the balance of the layers.",
    }
