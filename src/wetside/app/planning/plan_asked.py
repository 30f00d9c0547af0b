"""What the plan's form starts from: the rolls that wait on the shelf, and the prices of the plan last kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from wetside.app.shelf import AREA_A_LITRE, KEEPS, shelf
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger

HORIZON = 60
WAITS = ("loaded", "exposed")


COSTS = ("session_cost", "waiting_cost_per_roll_day", "clip_cost")


def example(today: date | None = None) -> dict[str, Any]:
    """An invented request, of today unless another day is given."""
    first = today or date.fromtimestamp(clock.wall())

    def on(days: int) -> str:
        return (first + timedelta(days=days)).isoformat()

    waiting = (
        ("S01", "135", 1622, 0, 21, 400),
        ("S02", "135", 1622, 2, None, 0),
        ("S03", "110", 700, 6, None, 0),
    )
    return {
        "today": on(0), "horizon_days": HORIZON,
        "rolls": [
            {"id": i, "gauge": g, "length_mm": length, "process": "ecn-2", "backing": "rem-jet", "exposed_on": on(ready), "worth": worth, **({"due_on": on(due)} if due else {})}
            for i, g, length, ready, due, worth in waiting
        ],
        "kits": [{"id": "kit of 1 L", "process": "ecn-2", "price": 45, "litres": 1, "area_m2": 0.5, "life_days": 18, "post": 12}],
        "labs": [{"id": "Harbour Lab", "gauges": ["135"], "processes": ["ecn-2"], "takes_backing": True, "price_per_roll": 14, "per_parcel": 16, "parcel_rolls": 10, "days": 14}],
        "tanks": [{"id": "two-reel tank", "volume_ml": 600, "reels": 2}], "session_cost": 4, "waiting_cost_per_roll_day": 0.1, "clip_cost": 4,
    }  # fmt: skip


def asked(home: Path) -> dict[str, Any] | None:
    """A request to start from, or None where no roll waits and no plan was kept. Prices nobody gave stay away."""
    there = shelf(home)
    last, kits, tanks = _told(home)
    today = date.fromtimestamp(clock.wall())
    rolls = rolls_waiting(there, last, today)
    if not rolls and not last:
        return None
    return {
        "today": today.isoformat(),
        "horizon_days": last.get("horizon_days", HORIZON),
        "rolls": rolls,
        "kits": last.get("kits") or [_kit(body) for body in kits],
        "baths": developers_left(there, today),
        "labs": last.get("labs") or [_laboratory(name) for name in _named(there, "laboratory")],
        "tanks": last.get("tanks") or tanks,
        **{name: last[name] for name in COSTS if last.get(name) is not None},
    }


def _told(home: Path) -> tuple[dict[str, Any], list[dict[str, Any]], list[dict[str, Any]]]:
    """The request of the plan that was kept last, empty where there is none, the kits and the tanks of the book."""
    if not (home / FILE).exists():
        return {}, [], []
    with Ledger.open(home) as book:
        plans: list[dict[str, Any]] = [line.body for line in book.lines(kind="plan")]
        kits: list[dict[str, Any]] = [line.body for line in book.lines(kind="kit")]
        tanks = {line.body["tank"]: _tank(line.body) for line in book.lines(kind="tank")}
    return (dict(plans[-1]["request"]) if plans else {}), kits, list(tanks.values())


def _kit(body: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "id": body["kit"], "process": body.get("process") or "ecn-2", "price": body.get("price"),
        "litres": body["makes_ml"] / 1000 if body.get("makes_ml") else None,
        "area_m2": body["area_mm2"] / 1e6 if body.get("area_mm2") else None,
        "life_days": KEEPS["developer"],
    }  # fmt: skip


def _tank(body: Mapping[str, Any]) -> dict[str, Any]:
    """A tank as last noted; one reel where none was said."""
    said = {"id": body["tank"], "volume_ml": body.get("volume_ml"), "reels": body.get("reels") or 1}
    return {key: value for key, value in said.items() if value is not None}


def _named(there: Mapping[str, Any], kind: str) -> list[str]:
    return [thing["name"] for thing in there["gear"] if thing["kind"] == kind]


def rolls_waiting(there: Mapping[str, Any], last: Mapping[str, Any], today: date) -> list[dict[str, Any]]:
    """Rolls not yet processed, with the due day and worth they had when a plan was last kept.

    Rolls of that plan the book does not know are taken over; those it knows to be processed are not.
    """
    stocks = {one["stock"]: one for one in there["stocks"]}
    before = {one["id"]: one for one in last.get("rolls") or []}
    known = {roll["roll"] for roll in there["rolls"]}
    waiting = [
        {**_roll(roll, stocks.get(roll["stock"], {}), today), **_terms(before.get(roll["roll"], {}))}
        for roll in there["rolls"]
        if roll["status"] in WAITS
    ]
    return waiting + [one for name, one in before.items() if name not in known]


def _terms(before: Mapping[str, Any]) -> dict[str, Any]:
    return {name: before[name] for name in ("due_on", "worth") if before.get(name) is not None}


def _roll(roll: Mapping[str, Any], stock: Mapping[str, Any], today: date) -> dict[str, Any]:
    exposed = today if roll["exposed_at"] is None else date.fromtimestamp(roll["exposed_at"])
    return {
        "id": roll["roll"], "gauge": roll["gauge"], "length_mm": roll["length_mm"],
        "process": stock.get("process", "ecn-2"), "backing": stock.get("backing", "rem-jet"),
        "exposed_on": exposed.isoformat(),
    }  # fmt: skip


def _laboratory(name: str) -> dict[str, Any]:
    return {"id": name, "gauges": [], "processes": [], "takes_backing": False}


def developers_left(there: Mapping[str, Any], today: date) -> list[dict[str, Any]]:
    """Mixed developers still within their time, with the area they have left."""
    return [
        {
            "id": bath["bath"], "process": bath["process"] or "ecn-2", "litres": bath["volume_ml"] / 1000,
            "area_m2": max(0.0, bath["volume_ml"] / 1000 * AREA_A_LITRE - bath["area_m2"]),
            "expires_on": (today + timedelta(days=int(bath["keeps_days"] - bath["age_days"]))).isoformat(),
        }
        for bath in _young(there["baths"])
    ]  # fmt: skip


def _young(baths: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    return [b for b in baths if b["role"] == "developer" and b["age_days"] < (b["keeps_days"] or 0)]
