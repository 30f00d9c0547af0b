"""Bottles: what stands on the shelf and can still do its work; labels; and writing down what was mixed."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.app.book import append
from wetside.app.shelf import shelf
from wetside.book.kinds import BathEmptied, BathMixed
from wetside.book.text import line_of
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.safety import BY_ROLE
from wetside.stages.bench.bottles import bath_state
from wetside.store import clock
from wetside.store.ledger import Ledger


def bottles(home: Path, now: float | None = None) -> list[dict[str, Any]]:
    """Every bath of the book with what it did and can still do, the latest mixed first."""
    return [bath_state(bath) for bath in shelf(home, now)["baths"]]


def bottled(home: Path, process: str, volumes: Mapping[str, float], names: Mapping[str, str]) -> list[str]:
    """Write down the baths that were mixed (role → mL, role → name); the names as written."""
    at = clock.wall()
    there = shelf(home)
    known = {bath["bath"] for bath in there["baths"]}
    chosen = {role: name.strip() for role, name in names.items() if name.strip()}
    for name in chosen.values():
        if name in known:
            raise Unusable(
                f"a bath {name!r} stands on the shelf already; give the new one another name", "bath"
            )
        if name in there["emptied"]:
            raise Unusable(f"a bath {name!r} was emptied; give the new one another name", "bath")
        if len(name) > 60 or any(ord(sign) < 32 for sign in name):
            raise Unusable("a bath's name is up to 60 characters of text", "bath")
    if len(set(chosen.values())) != len(chosen):
        raise Unusable("two bottles have one name", "bath")
    if not chosen:
        raise Unusable("name at least one bottle", "bath")
    bodies = [
        BathMixed(bath=name, role=role, volume_ml=volumes[role], process=process)
        for role, name in chosen.items()
    ]
    with Ledger.open(home) as book:
        book.append_lines(
            [line_of(body, name=uuid.uuid4().hex, happened_at=at, noted_at=at) for body in bodies]
        )
    return list(chosen.values())


def empty(home: Path, bath: str) -> str:
    """Write down that a bottle was emptied; the id of the line. Unusable where no such bath stands on the shelf."""
    if bath not in {one["bath"] for one in shelf(home)["baths"]}:
        raise Unusable(f"no bath {bath!r} on the shelf", "bath")
    return append(home, BathEmptied(bath=bath)).id


def labels_of(home: Path, names: list[str]) -> list[dict[str, Any]]:
    """A label a bottle: name, role, process, day, and a code (SVG) that says the same to a camera."""
    there = {bath["bath"]: bath for bath in shelf(home)["baths"]}
    missing = [name for name in names if name not in there]
    if missing:
        raise Unusable(f"no bath {missing[0]!r} on the shelf", "bath")
    chosen = [there[name] for name in names] if names else list(there.values())
    return [
        {**bath, "code": code(f"bath:{bath['bath']}"), "care": " ".join(BY_ROLE.get(bath["role"], ()))}
        for bath in chosen
    ]


def code(said: str) -> str:
    """A QR code as SVG, black on white whatever the page."""
    import segno

    return segno.make(said, error="m").svg_inline(scale=2, border=2, dark="#000", light="#fff")
