"""Plan: home, laboratory or wait, for the rolls on the shelf; kept as a line, carried into a calendar."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from wetside.figures.progress import Progress, silent
from wetside.store.given import json_in


def asked_in(file: Path) -> Any:
    """A request from a JSON file; Unusable where it cannot be read."""
    return json_in(file)


def plan(given: Mapping[str, Any], progress: Progress = silent) -> dict[str, Any]:
    """The plan for a request (`wetside schema plan-input`)."""
    from wetside.stages.planning.plan import plan as planned
    from wetside.stages.planning.request import request_from

    return planned(request_from(given), progress)


def pays_from(given: Mapping[str, Any]) -> list[str]:
    """From how many rolls each kit costs less than each laboratory: a sentence each."""
    from wetside.stages.planning.pays import pays
    from wetside.stages.planning.request import request_from

    return [one.said() for one in pays(request_from(given))]


def asked_for(given: Mapping[str, Any]) -> str:
    """What a request asks, in one form however it is written; an area to three figures, since the page asks it as metres."""
    from dataclasses import asdict

    from wetside.stages.planning.request import request_from

    def plain(value: Any, figures: int = 9) -> Any:
        if isinstance(value, dict):
            return {key: plain(one, 3 if key == "area_m2" else 9) for key, one in value.items()}
        if isinstance(value, list | tuple):
            words = all(isinstance(one, str) for one in value)  # gauges, processes: a set, in any order
            return sorted(value) if words else [plain(one) for one in value]
        return f"{value:.{figures}g}" if isinstance(value, int | float) else str(value)

    return json.dumps(plain(asdict(request_from(given))), sort_keys=True)


def keep_plan(home: Path, given: Mapping[str, Any], found: Mapping[str, Any]) -> None:
    """Write a plan into the book; from then on the form starts from its prices."""
    from wetside.book.kinds import Planned
    from wetside.store import clock
    from wetside.store.ledger import Ledger

    body = Planned(
        request=dict(given), actions=tuple(found["actions"]), cost=found["cost"], bound=found["bound"]
    )
    with Ledger.open(home) as book:
        book.append(body, happened_at=clock.wall())


def calendar_of(found: Mapping[str, Any]) -> bytes:
    """A plan's days as an iCalendar file (RFC 5545): an all-day entry for each action."""
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", "-//wetside//plan//EN")
    calendar.add("version", "2.0")
    for number, action in enumerate(found["actions"]):
        day = date.fromisoformat(action["on"])
        entry = Event()
        entry.add("uid", f"{action['on']}-{number}-{action['do'].replace(' ', '-')}@wetside")
        entry.add("dtstamp", _noon_of(day))
        entry.add("dtstart", day)
        entry.add("dtend", day + timedelta(days=1))
        entry.add("summary", _in_short(action))
        entry.add("description", action["why"])
        calendar.add_component(entry)
    return bytes(calendar.to_ical())


def _noon_of(day: date) -> Any:
    from datetime import UTC, datetime, time

    return datetime.combine(day, time(12), UTC)


def _in_short(action: Mapping[str, Any]) -> str:
    with_ = f" {action['with']}" if action["with"] else ""
    return f"{action['do']}{with_}: {', '.join(action['rolls'])}"
