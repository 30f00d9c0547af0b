"""A planning request: rolls, kits, baths, laboratories, tanks; read from JSON with one clear line for each slip."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from wetside.figures.finding import Unusable
from wetside.laws.economy.costs import Kit, Laboratory
from wetside.laws.reel.gauges import GAUGES, area_m2

PROCESSES = ("ecn-2", "c-41")


@dataclass(frozen=True, slots=True)
class Roll:
    """A roll to be processed. Days count from today: `ready` when it is exposed, `due` when it must be back."""

    id: str
    gauge: str
    length_mm: float
    process: str
    backing: bool
    ready: int
    due: int | None
    worth: float

    @property
    def area(self) -> float:
        """Film area [m²]."""
        return area_m2(GAUGES[self.gauge], self.length_mm)


@dataclass(frozen=True, slots=True)
class Request:
    """All that a plan rests on."""

    today: date
    horizon: int
    rolls: tuple[Roll, ...]
    kits: tuple[Kit, ...]
    labs: tuple[Laboratory, ...]
    reels: int
    tank: str
    session_cost: float
    waiting_cost: float
    clip_cost: float | None

    def day(self, offset: int) -> str:
        """ISO date of a day counted from today."""
        return (self.today + timedelta(days=offset)).isoformat()


def request_from(given: Mapping[str, Any]) -> Request:
    """A request from JSON; Unusable names the place, what was expected and what was found."""
    if not isinstance(given, Mapping):
        raise Unusable("expected a JSON object", "plan")
    today = _day(given, "today", "plan")
    if today is None:
        raise Unusable("plan.today: expected a date", "plan")
    horizon = int(_number(given, "horizon_days", "plan", 120, least=1, most=3650))
    rolls = tuple(_roll(one, f"rolls[{i}]", today, horizon) for i, one in enumerate(_list(given, "rolls")))
    kits = tuple(_kit(one, f"kits[{i}]") for i, one in enumerate(_list(given, "kits")))
    baths = tuple(_bath(one, f"baths[{i}]", today) for i, one in enumerate(_list(given, "baths")))
    labs = tuple(_lab(one, f"labs[{i}]") for i, one in enumerate(_list(given, "labs")))
    for what, things in (("roll", rolls), ("kit or bath", (*kits, *baths)), ("laboratory", labs)):
        _no_twice(what, [thing.id for thing in things])
    tank, reels = _tank(_list(given, "tanks"))
    clip = None if given.get("clip_cost") is None else _number(given, "clip_cost", "plan", 0)
    return Request(
        today, horizon, rolls, (*kits, *baths), labs, reels, tank, _number(given, "session_cost", "plan", 0),
        _number(given, "waiting_cost_per_roll_day", "plan", 0), clip,
    )  # fmt: skip


def _list(given: Mapping[str, Any], name: str) -> list[Any]:
    value = given.get(name) or []
    if not isinstance(value, list):
        raise Unusable(f"{name}: expected a list, found {type(value).__name__}", name)
    return value


def _mapping(one: object, where: str) -> Mapping[str, Any]:
    if not isinstance(one, Mapping):
        raise Unusable(f"{where}: expected an object, found {type(one).__name__}", where)
    return one


def _number(
    given: Mapping[str, Any],
    name: str,
    where: str,
    default: float | None = None,
    *,
    least: float = 0.0,
    most: float = 1e9,
) -> float:
    value = given.get(name, default)
    if value is None:
        raise Unusable(f"{where}.{name}: expected a number, found nothing", where)
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
        raise Unusable(
            f"{where}.{name}: expected a number from {least:g} to {most:g}, found {value!r}", where
        )
    return float(value)


def _day(given: Mapping[str, Any], name: str, where: str) -> date | None:
    value = given.get(name)
    if value is None:
        return None
    try:
        return date.fromisoformat(str(value)[:10])
    except ValueError:
        raise Unusable(f"{where}.{name}: expected a date like 2026-03-01, found {value!r}", where) from None


def _word(given: Mapping[str, Any], name: str, where: str, allowed: tuple[str, ...]) -> str:
    value = str(given.get(name, "")).lower()
    if value not in allowed:
        raise Unusable(
            f"{where}.{name}: expected one of {', '.join(allowed)}, found {given.get(name)!r}", where
        )
    return value


def _id(given: Mapping[str, Any], where: str) -> str:
    value = given.get("id")
    if not isinstance(value, str) or not value.strip():
        raise Unusable(f"{where}.id: expected a name, found {value!r}", where)
    return value


def _no_twice(what: str, ids: list[str]) -> None:
    twice = next((name for i, name in enumerate(ids) if name in ids[:i]), None)
    if twice is not None:
        raise Unusable(f"the {what} {twice!r} stands twice", what)


def _roll(one: object, where: str, today: date, horizon: int) -> Roll:
    given = _mapping(one, where)
    exposed, due = _day(given, "exposed_on", where) or today, _day(given, "due_on", where)
    ready = max(0, (exposed - today).days)
    if ready > horizon:
        raise Unusable(f"{where}.exposed_on: {exposed} lies beyond the horizon of {horizon} days", where)
    backing = str(given.get("backing", "unknown")).lower() not in ("none", "no", "false", "")
    return Roll(
        _id(given, where), _word(given, "gauge", where, tuple(GAUGES)), _number(given, "length_mm", where, least=1),
        _word(given, "process", where, PROCESSES), backing, ready, None if due is None else (due - today).days,
        _number(given, "worth", where, 0),
    )  # fmt: skip


def _kit(one: object, where: str) -> Kit:
    given = _mapping(one, where)
    sessions = given.get("sessions")
    return Kit(
        _id(given, where), _word(given, "process", where, PROCESSES),
        _number(given, "price", where) + (_number(given, "post", where, 0) if given.get("post") is not None else 0.0),
        _number(given, "area_m2", where, least=1e-6), _number(given, "life_days", where), _number(given, "litres", where, 1.0, least=1e-3),
        None if sessions is None else int(_number(given, "sessions", where, least=1)),
    )  # fmt: skip


def _bath(one: object, where: str, today: date) -> Kit:
    given = _mapping(one, where)
    expires = _day(given, "expires_on", where)
    life = (expires - today).days if expires else _number(given, "life_days", where, 0)
    sessions = given.get("sessions")
    return Kit(
        _id(given, where), _word(given, "process", where, PROCESSES), 0.0, _number(given, "area_m2", where),
        max(-1.0, life), _number(given, "litres", where, 1.0), None if sessions is None else int(sessions), True,
    )  # fmt: skip


def _lab(one: object, where: str) -> Laboratory:
    given = _mapping(one, where)
    per_roll, per_m = given.get("price_per_roll"), given.get("price_per_m")
    if per_roll is None and per_m is None:
        raise Unusable(
            f"{where} {_id(given, where)}: expected a price a roll or a metre (price_per_roll, price_per_m)",
            where,
        )
    return Laboratory(
        _id(given, where), tuple(str(g) for g in given.get("gauges", GAUGES)),
        tuple(str(p).lower() for p in given.get("processes", PROCESSES)), bool(given.get("takes_backing", False)),
        None if per_roll is None else _number(given, "price_per_roll", where), None if per_m is None else _number(given, "price_per_m", where),
        _number(given, "minimum_m", where, 0), _number(given, "per_parcel", where, 0),
        int(_number(given, "parcel_rolls", where, 1000, least=1)), _number(given, "tax", where, 0, most=5),
        int(_number(given, "days", where, 0)),
    )  # fmt: skip


def _tank(tanks: list[Any]) -> tuple[str, int]:
    best = ("", 1)
    for i, one in enumerate(tanks):
        given = _mapping(one, f"tanks[{i}]")
        reels = int(_number(given, "reels", f"tanks[{i}]", 1, least=1, most=100))
        if not best[0] or reels > best[1]:
            best = (_id(given, f"tanks[{i}]"), reels)
    return best
