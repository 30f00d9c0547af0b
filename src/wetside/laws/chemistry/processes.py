"""Processes as data: each step with its time, temperature, agitation, and whether the time is an aim or a minimum."""

from __future__ import annotations

import math
import tomllib
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from wetside.figures.finding import Unusable

Kind = Literal["aim", "minimum"]


@dataclass(frozen=True, slots=True)
class Agitation:
    """Turn for `first_s`, then `for_s` at every `every_s`; 0 means never again."""

    first_s: float = 15.0
    every_s: float = 30.0
    for_s: float = 5.0


@dataclass(frozen=True, slots=True)
class Rival:
    """What another source says of the same step."""

    say: str
    source: str


@dataclass(frozen=True, slots=True)
class Step:
    """One bath of a process. Times in s, temperatures in °C; `safe_hold_s` past its time does no harm."""

    name: str
    role: str
    seconds: float
    kind: Kind = "minimum"
    aim_c: float = 20.0
    low_c: float = 15.0
    high_c: float = 45.0
    agitation: Agitation = Agitation()
    safe_hold_s: float = 0.0
    source: str = "user"
    rivals: tuple[Rival, ...] = ()
    cautions: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """The step as JSON; times in seconds, temperatures in °C."""
        return {**asdict(self), "rivals": [asdict(r) for r in self.rivals], "cautions": list(self.cautions)}


@dataclass(frozen=True, slots=True)
class Push:
    """A developer time in s for so many stops of push, as a range one source gives."""

    stops: int
    low_s: float
    high_s: float
    source: str


@dataclass(frozen=True, slots=True)
class Process:
    """A named row of steps, with the speed of its development against temperature.

    `correction_c` is added to every reading of the thermometer that the run is read with.
    """

    name: str
    title: str
    steps: tuple[Step, ...]
    q10: float = 2.5
    q10_spread: float = 0.25
    q10_source: str = "inference"
    push: tuple[Push, ...] = ()
    correction_c: float = 0.0

    def developer(self) -> Step | None:
        """The step that develops; None where the process has none."""
        return next((step for step in self.steps if step.role == "developer"), None)


@cache
def built_in() -> dict[str, Process]:
    """The processes that ship with the package."""
    text = files("wetside.laws.chemistry").joinpath("processes.toml").read_text("utf-8")
    return {name: process_from_table(name, table) for name, table in tomllib.loads(text).items()}


def process_from_table(name: str, table: dict[str, Any]) -> Process:
    """A process from its table in `processes.toml`; Unusable where a step does not fit."""
    return Process(
        name=name,
        title=table["title"],
        steps=tuple(step_from_mapping(step, f"{name}, step {n}") for n, step in enumerate(table["steps"], 1)),
        q10=table["q10"],
        q10_spread=table["q10_spread"],
        q10_source=table["q10_source"],
        push=tuple(Push(**entry) for entry in table.get("push", ())),
    )


def process_named(name: str) -> Process:
    """The process of that name; `Unusable` names those there are."""
    found = built_in().get(name.strip().lower())
    if found is None:
        raise Unusable(f"no process {name!r}; one of {', '.join(built_in())}, or give steps", "process")
    return found


def process_from_steps(name: str, steps: list[dict[str, Any]]) -> Process:
    """A process of the user's own; each step needs a name and seconds, the rest has defaults."""
    if not 1 <= len(steps) <= 60:
        raise Unusable(f"a process has 1 to 60 steps; found {len(steps)}", "steps")
    rows = tuple(step_from_mapping(step, f"step {n}") for n, step in enumerate(steps, 1))
    return Process(name=name, title=name, steps=rows)


def step_from_mapping(given: dict[str, Any], where: str) -> Step:
    """A step from JSON or TOML; `Unusable` says what is wrong and where."""
    if not isinstance(given, dict):
        raise Unusable(f"{where}: expected an object, found {type(given).__name__}", where)
    unknown = set(given) - set(Step.__dataclass_fields__)
    if unknown:
        raise Unusable(f"{where}: unknown {', '.join(sorted(map(str, unknown)))}", where)
    name = given.get("name")
    if not isinstance(name, str) or not 0 < len(name.strip()) <= 60:
        raise Unusable(f"{where}: name is 1 to 60 characters; found {name!r}", where)
    if given.get("kind", "minimum") not in ("aim", "minimum"):
        raise Unusable(f"{where}: kind is aim or minimum; found {given['kind']!r}", where)
    aim = bounded(given, "aim_c", 20.0, 0.0, 100.0, where)
    return Step(
        name=name.strip(),
        role=str(given.get("role") or name.strip().lower())[:60],
        seconds=bounded(given, "seconds", None, 1.0, 86_400.0, where),
        kind=given.get("kind", "minimum"),
        aim_c=aim,
        low_c=bounded(given, "low_c", max(0.0, aim - 1.0), 0.0, 100.0, where),
        high_c=bounded(given, "high_c", min(100.0, aim + 1.0), 0.0, 100.0, where),
        agitation=agitation_from_mapping(given.get("agitation", {}), where),
        safe_hold_s=bounded(given, "safe_hold_s", 0.0, 0.0, 86_400.0, where),
        source=str(given.get("source", "user"))[:60],
        rivals=rivals_from_list(given.get("rivals", []), where),
        cautions=cautions_from_list(given.get("cautions", []), where),
    )


def rivals_from_list(given: Any, where: str) -> tuple[Rival, ...]:
    """Other published ways of a step, each with its source; Unusable where they are no such list."""
    whole = isinstance(given, list | tuple) and all(
        isinstance(r, dict) and isinstance(r.get("say"), str) and isinstance(r.get("source"), str)
        for r in given
    )
    if not whole:
        raise Unusable(f"{where}: rivals is a list of {{say, source}}", where)
    return tuple(Rival(r["say"][:300], r["source"][:60]) for r in given)


def cautions_from_list(given: Any, where: str) -> tuple[str, ...]:
    """What to mind at a step, each cut at 300 characters; Unusable where it is no list of text."""
    if not isinstance(given, list | tuple) or not all(isinstance(c, str) for c in given):
        raise Unusable(f"{where}: cautions is a list of text", where)
    return tuple(c[:300] for c in given)


def agitation_from_mapping(given: Any, where: str) -> Agitation:
    """How a step is agitated: at first, every, and for how long [s]; Unusable where a key or a time cannot be."""
    if not isinstance(given, dict) or set(given) - set(Agitation.__dataclass_fields__):
        raise Unusable(f"{where}: agitation is {{first_s, every_s, for_s}}; found {given!r}", where)
    return Agitation(**{key: bounded(given, key, None, 0.0, 86_400.0, where) for key in given})


def bounded(
    given: dict[str, Any], key: str, default: float | None, low: float, high: float, where: str
) -> float:
    """The number under `key`, within bounds."""
    value = given.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise Unusable(f"{where}: {key} is a number from {low:g} to {high:g}; found {value!r}", where)
    if not low <= value <= high:
        raise Unusable(f"{where}: {key} is from {low:g} to {high:g}; found {value:g}", where)
    return float(value)
