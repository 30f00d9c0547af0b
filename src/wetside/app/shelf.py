"""The shelf: film, baths and gear as the book's lines leave them, and what is due. Pure reading; no numpy."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from wetside.book.life import standing
from wetside.book.line import Line, Thing
from wetside.laws.chemistry.capacity import KEEPING
from wetside.laws.reel.gauges import GAUGES, area_m2
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger
from wetside.store.summaries import summary

DAY = 86_400.0
VERSION = 5
#: Film area a litre of a bath carries at the least [m²], about three rolls of 36: a cautious limit. Common practice.
AREA_A_LITRE = 0.16
#: Days after which a bath is worth a test, by role, in the order of pouring. Common practice; the estimate decays, it has no cliff.
KEEPS = {
    "prebath": 90,
    "developer": round(KEEPING["developer", "home"].days),
    "stop": 60,
    "bleach": 180,
    "fixer": 60,
    "final rinse": 30,
}
#: Kinds of lines the shelf rests on; those that speak of one roll alone, and of which there are many.
OF_ONE_ROLL = ("exposed", "scan", "measured", "parcel")
TELLING = (
    "roll",
    "run",
    "bath",
    "bath emptied",
    "tank",
    "reel",
    "thermometer",
    "gear",
    "stock",
    "correction",
    *OF_ONE_ROLL,
)
#: Touched rolls from which the whole shelf is made anew.
MOST_TOUCHED = 40
THERMOMETER_DAYS = 180
WAITING_DAYS = 45
AWAY_DAYS = 30


def shelf(home: Path, now: float | None = None) -> dict[str, Any]:
    """Rolls, baths, gear and what is due, at a time."""
    at = clock.wall() if now is None else now
    if not (home / FILE).exists():
        return shelf_of([], at)
    with Ledger.open(home) as book:
        kept = summary(
            home, "shelf", book, VERSION, lambda: told_of(book.lines(kind=TELLING, include_struck=True)),
            lambda told, new: grown(book, told, new),
        )  # fmt: skip
    return aged(kept, at)


def shelf_of(lines: Iterable[Line], now: float) -> dict[str, Any]:
    """The shelf from lines alone, at a time."""
    return aged(told_of(lines), now)


def told_of(lines: Iterable[Line]) -> dict[str, Any]:
    """What the lines tell, whatever the time is now: the part that is kept as a summary."""
    told = standing(lines)
    rolls, baths = _rolls(told), _baths(told)
    return {
        "rolls": sorted(rolls.values(), key=lambda roll: roll["roll"]),
        "baths": sorted(baths.values(), key=lambda bath: (-bath["mixed_at"], _poured(bath["role"]))),
        "gear": _gear(told),
        "stocks": [line.body for line in told if line.kind == "stock"],
    }


def grown(book: Ledger, told: dict[str, Any], new: list[Line]) -> dict[str, Any] | None:
    """The same after more lines; None where they strike something the shelf rests on, or touch too many rolls.

    A roll stands as its own life leaves it, so only the rolls that were touched are read again; there are few lines of
    all else.
    """
    struck = [book.line(str(line.body.get("strikes"))) for line in new if line.kind == "correction"]
    if any(line is None or line.kind in (*TELLING, "correction") for line in struck):
        return None
    telling = [line for line in new if line.kind in TELLING]
    touched = {name for line in telling for name in _rolls_of(line)}
    if not telling or len(touched) > MOST_TOUCHED:
        return None if telling else told
    rolls = {roll["roll"]: roll for roll in told["rolls"]}
    for name in touched:
        life = _rolls(standing(book.lines(thing=Thing("roll", name), kind=TELLING)))
        rolls.pop(name, None)
        rolls |= {name: life[name]} if name in life else {}
    few = told_of(book.lines(kind=[kind for kind in TELLING if kind not in OF_ONE_ROLL]))
    return {**few, "rolls": sorted(rolls.values(), key=lambda roll: roll["roll"])}


def aged(told: dict[str, Any], now: float) -> dict[str, Any]:
    """What was told, with ages and what is due at a time."""
    baths = [
        {**bath, "age_days": max(0.0, (now - bath["mixed_at"]) / DAY)}
        for bath in told["baths"]
        if bath["emptied_at"] is None or now < bath["emptied_at"]
    ]
    gear = [
        {**thing, "checked_days": (now - thing["checked_at"]) / DAY} if "checked_at" in thing else thing
        for thing in told["gear"]
    ]
    due = _due({r["roll"]: r for r in told["rolls"]}, {b["bath"]: b for b in baths}, gear, now)
    emptied = [bath["bath"] for bath in told["baths"] if bath["emptied_at"] is not None]
    return {"schema": "wetside.shelf/1", **told, "baths": baths, "emptied": emptied, "gear": gear, "due": due}


def _rolls(told: list[Line]) -> dict[str, dict[str, Any]]:
    """Every roll as its lines leave it; a roll that was written down late has lived all the same."""
    rolls: dict[str, dict[str, Any]] = {}
    for line in sorted(told, key=lambda line: line.kind != "roll"):
        body: dict[str, Any] = line.body
        if line.kind == "roll":
            rolls[body["roll"]] = {
                "roll": body["roll"], "stock": body["stock"], "gauge": body["gauge"], "length_mm": body.get("length_mm"),
                "status": "loaded", "since": line.happened_at, "run": None, "scans": 0, "measured": 0, "lines": [line.id],
                "exposed_at": None, "camera": body.get("camera"), "twin_of": body.get("twin_of"), "note": body.get("note", ""),
                "parcel": None,
            }  # fmt: skip
            continue
        for name in _rolls_of(line):
            roll = rolls.get(name)
            if roll is not None:
                _tell(roll, line)
    return rolls


def _rolls_of(line: Line) -> list[str]:
    return [thing.name for thing in line.touches if thing.kind == "roll"]


def _tell(roll: dict[str, Any], line: Line) -> None:
    """Let a line change where a roll stands; it is then what the status rests on, beside the roll's own first line."""
    body: dict[str, Any] = line.body
    before = roll["status"]
    status: str = {"exposed": "exposed", "run": "processed", "measured": "measured"}.get(line.kind, before)
    if line.kind == "exposed":
        roll["exposed_at"] = line.happened_at
    elif line.kind == "run":
        roll["run"] = body["run"]
    elif line.kind == "parcel":
        status = "at the laboratory" if body.get("way") == "sent" else "back from the laboratory"
        roll["parcel"] = {
            "parcel": body["parcel"],
            "laboratory": body["laboratory"],
            "rolls": list(body["rolls"]),
        }
    elif line.kind == "scan":
        roll["scans"] += 1
        status = before if before == "measured" else "scanned"
    elif line.kind == "measured":
        roll["measured"] += 1
    if (
        line.kind in ("exposed", "run", "parcel", "measured")
        or status != before
        or (line.kind == "scan" and before != "measured")
    ):
        roll.update(status=status, since=line.happened_at, lines=[roll["lines"][0], line.id])


def _baths(told: list[Line]) -> dict[str, dict[str, Any]]:
    baths: dict[str, dict[str, Any]] = {}
    area: defaultdict[str, float] = defaultdict(float)
    runs: defaultdict[str, list[str]] = defaultdict(list)
    sizes = {str(one.body["roll"]): film_area(one.body) for one in told if one.kind == "roll"}
    for line in told:
        body: dict[str, Any] = line.body
        if line.kind == "bath":
            baths[body["bath"]] = {
                "bath": body["bath"], "role": body["role"], "process": body.get("process"), "volume_ml": body["volume_ml"],
                "mixed_at": line.happened_at, "kit": body.get("kit"), "bottle": body.get("bottle", ""),
                "keeps_days": KEEPS.get(body["role"]), "line": line.id, "emptied_at": None,
            }  # fmt: skip
        if line.kind == "bath emptied" and body["bath"] in baths:
            baths[body["bath"]]["emptied_at"] = line.happened_at
        if line.kind == "run":
            ran = sum(sizes.get(entry.get("roll", ""), 0.0) for entry in body.get("rolls", ()))
            for name in set(body.get("baths", {}).values()):
                area[name] += ran
                runs[name].append(body["run"])
    for name, bath in baths.items():
        bath.update(area_m2=area[name], runs=runs[name])
    return baths


def _poured(role: str) -> int:
    """A role's place in the order of pouring; one of its own comes last."""
    return list(KEEPS).index(role) if role in KEEPS else len(KEEPS)


def film_area(body: Mapping[str, Any]) -> float:
    """Film area [m²] of a roll's line; 0 where its gauge or its length is not known."""
    gauge = GAUGES.get(body["gauge"])
    return 0.0 if gauge is None else area_m2(gauge, body.get("length_mm") or 0.0)


def _gear(told: list[Line]) -> list[dict[str, Any]]:
    gear: dict[str, dict[str, Any]] = {}
    for line in told:
        body: dict[str, Any] = line.body
        if line.kind in ("tank", "reel"):
            gear[f"{line.kind}:{body[line.kind]}"] = {
                "kind": line.kind,
                "name": body[line.kind],
                "say": _tank_or_reel(body),
            }
        elif line.kind == "thermometer":
            off = (
                None
                if body.get("read_c") is None or body.get("true_c") is None
                else body["read_c"] - body["true_c"]
            )
            say = f"reads {off:+.1f} °C" if off is not None else "not compared yet"
            gear[f"thermometer:{body['thermometer']}"] = {
                "kind": "thermometer", "name": body["thermometer"], "say": say, "checked_at": line.happened_at,
            }  # fmt: skip
        elif line.kind == "gear":
            gear[f"{body['gear_kind']}:{body['name']}"] = {
                "kind": body["gear_kind"],
                "name": body["name"],
                "say": body.get("note", ""),
            }
    return list(gear.values())


def _tank_or_reel(body: dict[str, Any]) -> str:
    parts = [
        f"{body['volume_ml']:.0f} mL" if body.get("volume_ml") else "",
        f"{body['mass_g']:.0f} g" if body.get("mass_g") else "",
        f"core {body['inner_radius_mm']:g} mm" if body.get("inner_radius_mm") else "",
        f"pitch {body['pitch_mm']:g} mm" if body.get("pitch_mm") else "",
        str(body.get("material", "")),
    ]
    return ", ".join(part for part in parts if part)


def _due(
    rolls: dict[str, Any], baths: dict[str, Any], gear: list[dict[str, Any]], now: float
) -> list[dict[str, str]]:
    """What waits to be done: the thing, why, and the deed that ends it (plan, return, scan, test, compare)."""
    due: list[dict[str, str]] = []

    def wants(kind: str, name: str, deed: str, why: str) -> None:
        due.append({"what": f"{kind} {name}", "why": why, "deed": deed, "name": name})

    for name, roll in rolls.items():
        days = (now - roll["since"]) / DAY
        if roll["status"] == "exposed" and days > WAITING_DAYS:
            wants("roll", name, "plan", f"exposed {days:.0f} days ago and not processed")
        if roll["status"] == "at the laboratory" and days > AWAY_DAYS:
            wants("roll", name, "return", f"sent {days:.0f} days ago and not back")
        if roll["status"] == "processed":
            wants("roll", name, "scan", "processed and not scanned yet")
    for name, bath in baths.items():
        keeps, age = bath["keeps_days"], bath["age_days"]
        if keeps and age > keeps:
            why = f"{age:.0f} days old; test it before a roll is risked (keeps about {keeps} days)"
            wants("bath", name, "test", why)
    for thing in gear:
        if thing["kind"] == "thermometer" and thing.get("checked_days", 0) > THERMOMETER_DAYS:
            wants(
                "thermometer", thing["name"], "compare", f"last compared {thing['checked_days']:.0f} days ago"
            )
    return due
