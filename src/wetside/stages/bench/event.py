"""The shape of an event: which fields each kind carries, and within which bounds. A slip is `Unusable`."""

from __future__ import annotations

import math
from typing import Any

from wetside.figures.finding import Unusable
from wetside.stages.bench.rescue import TROUBLES
from wetside.stages.bench.run import KINDS

PLACES = ("tank", "bottle", "bath", "room")
ID_SIGNS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-")
EARLIEST, LATEST = 0.0, 32_503_680_000.0  # the years 1970 and 3000


def checked_event(given: Any) -> dict[str, Any]:
    """The event with its known fields only; raises `Unusable` for what cannot be read."""
    if not isinstance(given, dict):
        raise Unusable(f"an event is an object; found {type(given).__name__}", "event")
    event = {
        "id": checked_id(given.get("id")),
        "kind": given.get("kind"),
        "happened_at": number(given, "happened_at", EARLIEST, LATEST),
    }
    if event["kind"] not in KINDS:
        raise Unusable(f"kind is one of {', '.join(KINDS)}; found {event['kind']!r}", "kind")
    return event | fields_of(event["kind"], given)


def fields_of(kind: str, given: dict[str, Any]) -> dict[str, Any]:
    if kind == "temperature":
        return {"celsius": number(given, "celsius", 0.0, 100.0), "of": one_of(given, "of", PLACES, "tank")}
    if kind == "deviation":
        return {"what": one_of(given, "what", tuple(TROUBLES), None), "say": words(given, "say", "")}
    if kind == "preflight":
        done = given.get("done", True)
        if not isinstance(done, bool):
            raise Unusable(f"done is true or false; found {done!r}", "done")
        return {"item": words(given, "item", None), "done": done}
    if kind == "strike":
        return {"strikes": checked_id(given.get("strikes"))}
    if kind == "note":
        return {"say": words(given, "say", None)}
    if kind == "fill" and given.get("step") is not None:
        step = given["step"]
        if isinstance(step, bool) or not isinstance(step, int) or not 0 <= step < 60:
            raise Unusable(f"step is a whole number from 0; found {step!r}", "step")
        return {"step": step}
    return {}


def checked_id(given: Any) -> str:
    if not isinstance(given, str) or not 0 < len(given) <= 64 or not ID_SIGNS.issuperset(given):
        raise Unusable("an id is 1 to 64 characters of A–Z a–z 0–9 . _ -", "id")
    return given


def number(given: dict[str, Any], key: str, low: float, high: float) -> float:
    value = given.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise Unusable(f"{key} is a number; found {value!r}", key)
    if not low <= value <= high:
        raise Unusable(f"{key} is from {low:g} to {high:g}; found {value:g}", key)
    return float(value)


def words(given: dict[str, Any], key: str, default: str | None) -> str:
    value = given.get(key, default)
    if not isinstance(value, str) or len(value) > 500 or (default is None and not value.strip()):
        raise Unusable(f"{key} is up to 500 characters of text", key)
    if any(0xD800 <= ord(sign) <= 0xDFFF or sign == "\0" for sign in value):
        raise Unusable(f"{key} holds a character that is not text", key)
    return value


def one_of(given: dict[str, Any], key: str, choices: tuple[str, ...], default: str | None) -> str:
    value = given.get(key, default)
    if value not in choices:
        raise Unusable(f"{key} is one of {', '.join(choices)}; found {value!r}", key)
    return str(value)
