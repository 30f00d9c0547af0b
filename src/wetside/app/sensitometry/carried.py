"""Figures carried to a shoot: what a stock's card said on a day, as lines, held against what it says now."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.app.sensitometry.stock import VERSION, stock, stocks
from wetside.book.kinds import Issued
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger

INDEX = "working exposure index"
#: A figure has moved when it differs by more than so many of the spreads stated then and now. Common practice.
MOVED = 2.0


def carry(home: Path, name: str) -> None:
    """Write a stock's working exposure index down as carried, with the scans it rests on."""
    card = stock(name, home)
    if card["cannot_say"]:
        raise Unusable(f"{name} has no figure to carry: {card['cannot_say']}", "stock")
    roll = next(one["scale"] for one in stocks(home) if one["stock"] == name)
    index = card["working_ei"]
    with Ledger.open(home) as book:
        scans = tuple(line.id for line in book.lines(thing=Thing("roll", str(roll))) if line.kind == "scan")
        body = Issued(
            stock=name, figure=INDEX, value=float(index["rounded"] or round(index["value"])), unit="EI",
            spread=card["speed"]["spread_stops"], rests_on=scans, laws={"stock card": str(VERSION)},
            note="the spread is in stops",
        )  # fmt: skip
        book.append(body, happened_at=clock.wall())


def carried(home: Path, name: str, card: Mapping[str, Any] | None) -> list[dict[str, Any]]:
    """The figures of a stock that were carried, newest first; `moved` is how far the card has gone since [stops]."""
    if not (home / FILE).exists():
        return []
    with Ledger.open(home) as book:
        lines = [line for line in book.lines(thing=Thing("stock", name)) if line.kind == "issued"]
    return [
        {"line": line.id, "at": line.happened_at, "value": line.body["value"], "spread": line.body["spread"],
         "moved": _moved(line.body, card)}
        for line in reversed(lines)
    ]  # fmt: skip


def _moved(body: Mapping[str, Any], card: Mapping[str, Any] | None) -> float | None:
    if not card or card["cannot_say"]:
        return None
    stops = math.log2(card["working_ei"]["value"] / body["value"])
    return (
        stops
        if abs(stops) > MOVED * math.hypot(body["spread"] or 0.0, card["speed"]["spread_stops"])
        else 0.0
    )
