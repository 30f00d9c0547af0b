"""Two runs of the story that were tapped at the sink: every pour, turn and reading. Invented, as all of this."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from wetside.book.kinds import Body, RunEvent
from wetside.laws.chemistry.processes import Step, process_named

#: s after the run began, kind, fields.
Tap = tuple[float, str, dict[str, object]]
FILL, DRAIN, BETWEEN = 10.0, 10.0, 6.0
CHECKS = ("bottles", "stop", "temperature", "thermometer", "lid", "film", "edge", "gloves")


@dataclass(frozen=True, slots=True)
class Tapped:
    """A run's taps: its day, the developer's film time, what was read, passed over and went wrong."""

    run: str
    day: float
    developer_s: float
    bottle_c: float
    tank_c: tuple[tuple[float, float], ...]
    passed_over: tuple[str, ...] = ()
    slow_fill_s: float = 0.0
    trouble: dict[str, str] = field(default_factory=dict)
    turns_left_out: int = 0
    dry_after_s: float = 3.2 * 3600


RUNS = (
    Tapped("run 1", 20.0, 178.0, 42.3, ((25, 41.0), (150, 40.8)), ("thermometer",), 4.0, {"Stop bath": "late pour"}),
    Tapped("run 3", 40.0, 181.0, 41.3, ((20, 39.9), (95, 39.5), (165, 39.2)), ("temperature", "edge"), 0.0,
           {"Developer": "wrong temperature", "Bleach": "missed agitation"}, 2),
)  # fmt: skip


def taps() -> Iterator[tuple[float, Body]]:
    """(seconds after the story began, line) of every tap."""
    for one in RUNS:
        yield from taps_of(one)


def taps_of(one: Tapped) -> Iterator[tuple[float, Body]]:
    """(seconds after the story began, line) of every tap of one run."""
    for after, event, fields in _taps(one):
        yield one.day * 86_400.0 + after, RunEvent(run=one.run, event=event, fields=fields)


def _taps(one: Tapped) -> Iterator[Tap]:
    for number, item in enumerate(CHECKS):
        yield 20.0 + 6 * number, "preflight", {"item": item, "done": item not in one.passed_over}
    yield 80.0, "temperature", {"celsius": one.bottle_c, "of": "bottle"}
    at = 120.0
    for step in process_named("ecn-2").steps:
        events, at = _bath(one, step, at)
        yield from events
    yield at + 5, "finish", {}
    yield at + 5 + one.dry_after_s, "dry", {}


def _bath(one: Tapped, step: Step, at: float) -> tuple[list[Tap], float]:
    """(taps of one bath, the instant at which the next may begin)."""
    developer = step.role == "developer"
    fill = FILL + (one.slow_fill_s if developer else 0.0)
    film = one.developer_s if developer else step.seconds + 4
    middle = at + fill / 2
    drain = middle + film - DRAIN / 2
    told: list[Tap] = [(at, "fill", {}), (at + fill, "full", {})]
    told += [(when, "agitate", {}) for when in _turns(step, middle, drain)[one.turns_left_out * developer :]]
    if developer:
        told += [(middle + s, "temperature", {"celsius": c, "of": "tank"}) for s, c in one.tank_c]
    if step.name in one.trouble:
        told.append((middle + min(40.0, film / 2), "deviation", {"what": one.trouble[step.name]}))
    told += [(drain, "drain", {}), (drain + DRAIN, "empty", {})]
    return sorted(told, key=lambda entry: entry[0]), drain + DRAIN + BETWEEN


def _turns(step: Step, middle: float, drain: float) -> list[float]:
    """Instants at which the tank is turned: as the step's rhythm asks, from its first pause on."""
    every = step.agitation.every_s
    count = int((drain - middle - 1) // every) if every else 0
    return [middle + every * n + 0.4 for n in range(1, count + 1)]
