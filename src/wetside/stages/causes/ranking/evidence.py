"""Evidence about a roll or a run, from JSON: every key may be left out; what is there is judged at the door."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from wetside.figures.finding import Unusable
from wetside.stages.causes.ranking.company import shared_roles
from wetside.stages.causes.ranking.layers import Layers, layers_fitted

DENSITIES = ("dmin", "ld", "hd_ld")
CHANNELS = ("r", "g", "b")
#: Choices of the five questions that tell nothing.
UNTOLD = ("not looked", "only one roll")
LOG_KEYS = (
    "developer_temperature_off_c", "developer_time_off_s", "missed_agitation", "stop_bath_used", "late_drain",
    "developer_age_days", "developer_area_m2_per_litre", "bleach_area_m2_per_litre", "fixer_area_m2_per_litre",
    "tank_fill_short", "film_age_years", "pushed",
)  # fmt: skip
KEYS = (
    "schema",
    "run",
    "rolls",
    "departures",
    "spread",
    "aim_of",
    "log",
    "marks",
    "frames",
    "pattern",
    "cast",
    "company",
    "answers",
    "tests",
    "open_gate_shows_it",
    "own_runs",
)


@dataclass(frozen=True)
class Evidence:
    """departures[density][channel] in D from the aim (None where unknown), their spread, the log, and what was seen.

    `aim_of`: how many strips the aim is the mean of; None where it is known otherwise.

    `frames`: how many were searched for marks; None where nobody says.

    `shared`: odds and words for each role whose bottle or gear the bad rolls share and the good ones lack.
    `scans`: rung, reasons and findings of the roll's last reading, as far as there was one.
    """

    departures: dict[str, tuple[float | None, float | None, float | None]] = field(default_factory=dict)
    spread: float = 0.02
    aim_of: int | None = None
    log: dict[str, Any] = field(default_factory=dict)
    marks: tuple[Mapping[str, Any], ...] = ()
    pattern: str = "cannot say"
    cast: Mapping[str, Any] = field(default_factory=dict)
    company: tuple[Mapping[str, Any], ...] = ()
    answers: Mapping[str, str] = field(default_factory=dict)
    tests: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, str] = field(default_factory=dict)
    layers: Layers | None = None
    scans: Mapping[str, Any] = field(default_factory=dict)
    shared: Mapping[str, tuple[float, str]] = field(default_factory=dict)
    frames: int | None = None

    @property
    def measured(self) -> bool:
        """Whether any departure is known."""
        return any(v is not None for values in self.departures.values() for v in values)

    @property
    def kinds(self) -> list[str]:
        """What kinds of evidence there are: densities, marks, cast, log, company, answers, tests."""
        there = {
            "densities": self.measured, "marks": self.marks, "cast": self.cast.get("found"), "log": self.log,
            "company": self.shared, "answers": self.answered, "tests": self.tests,
        }  # fmt: skip
        return [name for name, held in there.items() if held]

    @property
    def answered(self) -> bool:
        """Whether any answer says more than that nobody looked."""
        return any(choice not in UNTOLD for choice in self.answers.values())


def evidence_from(given: Mapping[str, Any]) -> Evidence:
    """Evidence from JSON; Unusable for what cannot be meant."""
    if not isinstance(given, Mapping):
        raise Unusable("evidence: expected a JSON object", "evidence")
    unknown = [key for key in given if key not in KEYS]
    if unknown:
        raise Unusable(f"evidence has no key {unknown[0]!r}; its keys: {', '.join(KEYS)}", "evidence")
    departures = {name: _triple(given, name) for name in DENSITIES if name in _object(given, "departures")}
    odd = [name for name in _object(given, "departures") if name not in DENSITIES]
    if odd:
        raise Unusable(f"departures has no {odd[0]!r}; it has {', '.join(DENSITIES)}", "departures")
    log = dict(_object(given, "log"))
    odd = [name for name in log if name not in LOG_KEYS]
    if odd:
        raise Unusable(f"log has no {odd[0]!r}; it has {', '.join(LOG_KEYS)}", "log")
    spread = given.get("spread", 0.02)
    if isinstance(spread, bool) or not isinstance(spread, int | float) or not 0 < spread < 1:
        raise Unusable(f"spread: expected a density between 0 and 1, found {spread!r}", "spread")
    aim_of, frames = _count(given, "aim_of", "strips"), _count(given, "frames", "frames")
    return Evidence(
        departures, float(spread), aim_of, log, tuple(_list(given, "marks")), str(given.get("pattern", "cannot say")),
        _object(given, "cast"), tuple(_list(given, "company")), _object(given, "answers"), _object(given, "tests"),
        layers=layers_fitted(_own_runs(given)), shared=shared_roles(_list(given, "company"), _names(given, "rolls")), frames=frames,
    )  # fmt: skip


def _count(given: Mapping[str, Any], name: str, of: str) -> int | None:
    value = given.get(name)
    if value is not None and (isinstance(value, bool) or not isinstance(value, int) or value < 1):
        raise Unusable(f"{name}: expected a number of {of}, found {value!r}", name)
    return value


def _object(given: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    value = given.get(name) or {}
    if not isinstance(value, Mapping):
        raise Unusable(f"{name}: expected an object, found {type(value).__name__}", name)
    return value


def _list(given: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    value = given.get(name) or []
    if not isinstance(value, list) or not all(isinstance(one, Mapping) for one in value):
        raise Unusable(f"{name}: expected a list of objects", name)
    return value


def _names(given: Mapping[str, Any], name: str) -> list[str]:
    value = given.get(name) or []
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise Unusable(f"{name}: expected a list of names", name)
    return value


def _own_runs(given: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Earlier runs that were measured, each judged as this one is."""
    found = []
    for run in _list(given, "own_runs"):
        departures = _object(run, "departures")
        rows = {name: dict(zip(CHANNELS, _triple(run, name))) for name in DENSITIES if name in departures}
        found.append({"departures": rows, "log": _object(run, "log")})
    return found


def _triple(given: Mapping[str, Any], name: str) -> tuple[float | None, float | None, float | None]:
    one = _object(given, "departures")[name]
    if not isinstance(one, Mapping):
        raise Unusable(f"departures.{name}: expected r, g, b, found {one!r}", f"departures.{name}")
    return tuple(_density(one.get(channel), f"departures.{name}.{channel}") for channel in CHANNELS)  # type: ignore[return-value]


def _density(value: object, where: str) -> float | None:
    if value is None:
        return None
    if (
        isinstance(value, bool)
        or not isinstance(value, int | float)
        or not math.isfinite(value)
        or abs(value) > 5
    ):
        raise Unusable(f"{where}: expected a density within ±5, found {value!r}", where)
    return float(value)
