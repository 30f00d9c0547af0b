"""A plan in words: what to do on which day, what else it could cost, and which assumption would turn it over."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from wetside.figures.progress import Progress, silent
from wetside.stages.planning.model import Solved, Way, solved
from wetside.stages.planning.problem import SPOILS, clipped
from wetside.stages.planning.request import Request, Roll

FLIP_SECONDS = 6.0
OTHER_SECONDS = 4.0
"""Longest search for what one of the plain choices would cost; the cost is then that of the best found."""
Named = list[tuple[Way, list[str]]]
"""Ways with the names of the rolls that take them."""
Dated = tuple[int, int, dict[str, Any]]
"""An action with its day and its place within the day."""
PARTS = "Planning: the cheapest way, what else it would cost, what would turn it over"


def plan(request: Request, progress: Progress = silent) -> dict[str, Any]:
    """The `wetside.plan/1` object: actions, cost, bound, alternatives, flips."""
    progress(PARTS, 0, 3)
    began = time.perf_counter()
    best = solved(request)
    took = time.perf_counter() - began
    progress(PARTS, 1, 3)
    others = alternatives(request, best)
    progress(PARTS, 2, 3)
    turns = flips(request, best) if took < 1.0 else []
    progress(PARTS, 3, 3)
    return {
        "schema": "wetside.plan/1",
        "actions": actions(request, best),
        "cost": round(best.cost, 6),
        "bound": round(best.bound, 6),
        "alternatives": others,
        "flips": turns,
    }


def actions(request: Request, best: Solved) -> list[dict[str, Any]]:
    """What to do, in order of days; every roll stands in it."""
    names = _names(best)
    found = _mixes(request, best, names) + _clips(request, names)
    found += _sessions(request, names) + _parcels(request, names) + _waits(request, best, names)
    return [action for _, _, action in sorted(found, key=lambda entry: entry[:2])]


def _mixes(request: Request, best: Solved, names: Named) -> list[Dated]:
    """Each kit on the day of its first session: what is mixed earlier only ages."""
    found = []
    for (kit, mixed), count in best.mixes.items():
        mine = [(way, own) for way, own in names if (way.kit, way.mixed) == (kit, mixed)]
        if request.kits[kit].on_shelf or not mine:
            continue
        first, rolls = min(way.day for way, _ in mine), [name for _, own in mine for name in own]
        name, price = request.kits[kit].id, request.kits[kit].price * count
        why = f"{count} × {name} for {len(rolls)} rolls before it ages, {price:.2f} in all"
        found.append((first, 1, _action(request, first, "mix", rolls, name, why)))
    return found


def _clips(request: Request, names: Named) -> list[Dated]:
    found = []
    for way, name in ((way, name) for way, own in names if way.kit is not None for name in own):
        roll = _roll(request, name)
        if clipped(roll, request):
            why = f"a clip costs {request.clip_cost:.2f}; one run in {1 / SPOILS:.0f} spoiled would cost {SPOILS * roll.worth:.2f} of this roll's worth"
            with_ = request.kits[way.kit or 0].id
            found.append((way.day, 2, _action(request, way.day, "clip first", [name], with_, why)))
    return found


def _waits(request: Request, best: Solved, names: Named) -> list[Dated]:
    """Rolls that are ready today and go later, and those that no way serves."""
    left = [(0, 0, _action(request, 0, "wait", [r.id], None, _why_left(request, r))) for r in best.left_out]
    days = {roll.id: _day_of(names, roll.id) for roll in request.rolls if roll.ready == 0}
    waiting = {name: day for name, day in days.items() if day}
    if not waiting:
        return left
    why = f"until {request.day(min(waiting.values()))}: sharing one mix or parcel saves more than the waiting costs"
    return [(0, 0, _action(request, 0, "wait", list(waiting), None, why)), *left]


def _names(best: Solved) -> Named:
    taken = [0] * len(best.classes)
    named = []
    for way, count in sorted(best.ways, key=lambda entry: entry[0].day):
        group = best.classes[way.of]
        named.append((way, [roll.id for roll in group[taken[way.of] : taken[way.of] + count]]))
        taken[way.of] += count
    return named


def _sessions(request: Request, names: Named) -> list[Dated]:
    found = []
    for day, kit, mixed in sorted(
        {(w.day, w.kit, w.mixed) for w, _ in names if w.kit is not None and w.mixed is not None}
    ):
        rolls = [name for w, own in names if (w.day, w.kit, w.mixed) == (day, kit, mixed) for name in own]
        loads, chemistry = -(-len(rolls) // request.reels), request.kits[kit]
        bottle = chemistry.id if chemistry.on_shelf else f"{chemistry.id} mixed {request.day(mixed)}"
        why = f"{loads} tank load{'s' if loads > 1 else ''} of up to {request.reels}, chemistry {bottle}"
        found.append((day, 3, _action(request, day, "process", rolls, chemistry.id, why)))
    return found


def _parcels(request: Request, names: Named) -> list[Dated]:
    found = []
    for day, lab in sorted({(w.day, w.lab) for w, _ in names if w.lab is not None}):
        rolls = [n for w, own in names if (w.day, w.lab) == (day, lab) for n in own]
        there = request.labs[lab]
        why = f"back on {request.day(day + there.days)}; tell them gauge, stock, process, backing, length and any damaged perforation"
        found.append((day, 3, _action(request, day, "post", rolls, there.id, why)))
    return found


def _action(
    request: Request, day: int, do: str, rolls: list[str], with_: str | None, why: str
) -> dict[str, Any]:
    return {"on": request.day(day), "do": do, "rolls": rolls, "with": with_, "why": why}


def _roll(request: Request, name: str) -> Roll:
    return next(roll for roll in request.rolls if roll.id == name)


def _day_of(names: Named, name: str) -> int | None:
    return next((way.day for way, own in names if name in own), None)


def _why_left(request: Request, roll: Roll) -> str:
    limit = request.day(min(request.horizon, request.horizon if roll.due is None else roll.due))
    return f"no kit and no laboratory given can bring it back by {limit}; a later due day, or a laboratory that takes {roll.gauge}{' with backing' if roll.backing else ''}, would help"


def alternatives(request: Request, best: Solved) -> list[dict[str, Any]]:
    """What the plain choices would cost; null where one cannot serve every roll."""
    cases = (("all at home", replace(request, labs=())), ("all to a laboratory", replace(request, kits=())))
    return [{"say": say, "cost": _cost_if_all(case, best)} for say, case in cases]


def _cost_if_all(case: Request, best: Solved) -> float | None:
    other = solved(case, OTHER_SECONDS)
    return None if len(other.left_out) > len(best.left_out) else round(other.cost, 6)


def flips(request: Request, best: Solved) -> list[dict[str, Any]]:
    """Factors on an assumption, between a fifth and five times, at which who goes where changes; found by bisection."""
    until = time.perf_counter() + FLIP_SECONDS
    cases: tuple[tuple[str, Callable[[float], Request]], ...] = (
        (
            "price of kits",
            lambda f: replace(request, kits=tuple(replace(k, price=k.price * f) for k in request.kits)),
        ),
        (
            "price of laboratories",
            lambda f: replace(request, labs=tuple(_dearer(lab, f) for lab in request.labs)),
        ),
        ("waiting cost a roll and day", lambda f: replace(request, waiting_cost=request.waiting_cost * f)),
        ("cost of a session", lambda f: replace(request, session_cost=request.session_cost * f)),
    )
    found: list[dict[str, Any]] = []
    for say, at in cases:
        for end in (5.0, 0.2):
            if time.perf_counter() > until:
                return found
            flip = _flip(at, end, _who(best))
            if flip is not None:
                found.append({"assumption": say, "from": 1.0, "to": round(flip[0], 3), "then": flip[1]})
    return found


def _dearer(lab: Any, factor: float) -> Any:
    scaled = {
        name: None if (v := getattr(lab, name)) is None else v * factor
        for name in ("price_per_roll", "price_per_m")
    }
    return replace(lab, **scaled)


def _who(best: Solved) -> tuple[int, int]:
    home = sum(count for way, count in best.ways if way.kit is not None)
    return home, sum(count for way, count in best.ways if way.lab is not None)


def _flip(at: Callable[[float], Request], end: float, now: tuple[int, int]) -> tuple[float, str] | None:
    then = _who(solved(at(end), 2.0))
    if then == now:
        return None
    same, other = 1.0, end
    for _ in range(7):
        middle = (same * other) ** 0.5
        found = _who(solved(at(middle), 2.0))
        if found == now:
            same = middle
        else:
            other, then = middle, found
    return other, f"{then[0]} at home, {then[1]} to a laboratory (now {now[0]} and {now[1]})"
