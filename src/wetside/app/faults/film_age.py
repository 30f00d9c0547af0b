"""How old a run's film was when it was processed, from the date printed on its can."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from wetside.book.line import Line

YEAR = 365.25
#: Years between making and the date on the can (common practice; from memory).
DATED_AHEAD = 2.0


def film_age(lines: Sequence[Line], run: Line) -> tuple[float, str] | None:
    """Age [years] of the oldest film of a run and the line of its stock; None where no can's date is noted."""
    entries: Any = run.body.get("rolls") or ()
    rolls = {str(entry.get("roll")) for entry in entries}
    stocks = {str(one.body["stock"]) for one in lines if one.kind == "roll" and one.body.get("roll") in rolls}
    dated = {str(one.body["stock"]): one for one in lines if one.kind == "stock" and _expiry(one)}
    ages = [(_age(dated[stock], run.happened_at), dated[stock].id) for stock in stocks if stock in dated]
    return max(ages, default=None)


def _expiry(stock: Line) -> date | None:
    try:
        return date.fromisoformat(str(stock.body.get("expires_on")))
    except ValueError:
        return None


def _age(stock: Line, at: float) -> float:
    expiry = _expiry(stock) or date.fromtimestamp(at)
    return max(0.0, (date.fromtimestamp(at) - expiry).days / YEAR + DATED_AHEAD)
