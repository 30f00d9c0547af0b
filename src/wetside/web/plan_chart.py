"""A plan as a drawing: a lane a roll, days from left to right. Drawing only; nothing is planned here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

LANE, TOP, FOOT = 34, 34, 30
MOST_LANES = 60


def plan_chart(given: Mapping[str, Any], found: Mapping[str, Any], width: int) -> dict[str, Any] | None:
    """Lanes, mixes and ticks as SVG coordinates for a drawing `width` wide; None where nothing is done."""
    done = _done(given, found)
    if not done or len(done) > MOST_LANES:
        return None
    first = date.fromisoformat(str(given["today"])[:10])
    ends = [lane["back"] or lane["on"] for lane in done] + [lane["due"] for lane in done if lane["due"]]
    days = max(7, (max(ends) - first).days)
    left = 12 + 8 * min(16, max(len(lane["roll"]) for lane in done))

    def x(day: date) -> float:
        return round(left + max(0, (day - first).days) / days * (width - left - 22), 1)

    height = TOP + LANE * len(done) + FOOT
    return {
        "width": width, "height": height, "left": left, "floor": height - FOOT,
        "ticks": [(x(day), f"{day.day} {day:%b}") for day in _ticks(first, days, 4 if width < 500 else 8)],
        "mixes": [(x(date.fromisoformat(a["on"])), a["with"]) for a in found["actions"] if a["do"] == "mix"],
        "lanes": [
            {
                "y": TOP + LANE * n + LANE // 2, "roll": lane["roll"], "do": lane["do"], "with": lane["with"],
                "from": x(lane["ready"]), "on": x(lane["on"]), "back": x(lane["back"]) if lane["back"] else None,
                "due": x(lane["due"]) if lane["due"] else None,
            }
            for n, lane in enumerate(done)
        ],
    }  # fmt: skip


def _done(given: Mapping[str, Any], found: Mapping[str, Any]) -> list[dict[str, Any]]:
    rolls = {roll["id"]: roll for roll in given["rolls"]}
    away = {lab["id"]: int(lab.get("days") or 0) for lab in given.get("labs") or ()}
    lanes = []
    for action in found["actions"]:
        for name in action["rolls"] if action["do"] in ("process", "post") else ():
            on = date.fromisoformat(action["on"])
            posted = action["do"] == "post"
            back = on + timedelta(days=away.get(action["with"], 0)) if posted else None
            due, ready = rolls[name].get("due_on"), rolls[name].get("exposed_on")
            lanes.append({
                "roll": name, "do": action["do"], "with": action["with"], "on": on, "back": back,
                "due": date.fromisoformat(str(due)[:10]) if due else None, "ready": date.fromisoformat(str(ready or action["on"])[:10]),
            })  # fmt: skip
    return lanes


def _ticks(first: date, days: int, most: int) -> list[date]:
    step = next(s for s in (1, 2, 7, 14, 28, 56, 112, 364, 4000) if days / s <= most)
    return [first + timedelta(days=n) for n in range(0, days + 1, step)]
