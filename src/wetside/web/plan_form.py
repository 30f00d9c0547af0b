"""The plan's form: rows of fields to the request's JSON and back. Units are turned here, at the door; nothing is planned."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from starlette.datastructures import FormData

from wetside.figures.finding import Unusable
from wetside.web.fields import BACKINGS, GAUGES, LONGEST, NUMBERS, PROCESSES, Field, number_of

#: Square metres of film in a metre of 35 mm (ISO 1007: 34.975 mm wide).
AREA_A_METRE = 0.034975
MOST_ROWS = 200


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of one sort: the request's key, its heading, what it is for, the word for one more, its fields."""

    key: str
    title: str
    say: str
    another: str
    fields: tuple[Field, ...]


TABLES = (
    Table("rolls", "Rolls waiting", "Everything that wants to be developed; without a day it counts as exposed today. What a roll is worth to you decides whether a test clip goes first.", "Another roll", (
        Field("id", "Roll"), Field("gauge", "Gauge", "choice", GAUGES), Field("length_mm", "Length, m", "number", unit=0.001, needed=True, high=LONGEST),
        Field("process", "Process", "choice", PROCESSES), Field("backing", "Backing", "choice", BACKINGS),
        Field("exposed_on", "Exposed on", "date"), Field("due_on", "Needed by", "date"), Field("worth", "Worth", "number", hint="0"),
    )),
    Table("kits", "Kits to buy", "What a mix costs, and how much film it carries before it ages.", "Another kit", (
        Field("id", "Kit"), Field("process", "Process", "choice", PROCESSES), Field("price", "Price", "number", needed=True), Field("post", "Post", "number", hint="0"),
        Field("litres", "Makes, L", "number", hint="1"), Field("area_m2", "Enough for 35 mm, m", "number", unit=1 / AREA_A_METRE, needed=True, figures=3),
        Field("life_days", "Keeps, days", "number", needed=True), Field("sessions", "Sessions at most", "whole", hint="any"),
    )),
    Table("baths", "Developers already mixed", "They cost nothing more, but they age.", "Another bath", (
        Field("id", "Bottle"), Field("process", "Process", "choice", PROCESSES), Field("litres", "Holds, L", "number", hint="1"),
        Field("area_m2", "Left for 35 mm, m", "number", unit=1 / AREA_A_METRE, needed=True, figures=3), Field("expires_on", "Good until", "date"),
    )),
    Table("labs", "Laboratories", "Prices before tax. Leave the price a metre empty where they ask a price a roll.", "Another laboratory", (
        Field("id", "Laboratory"), Field("gauges", "Takes", "choices", GAUGES), Field("processes", "Runs", "choices", PROCESSES),
        Field("takes_backing", "takes rem-jet", "tick"), Field("price_per_roll", "Price a roll", "number"), Field("price_per_m", "or a metre", "number"),
        Field("minimum_m", "Metres at least", "number", hint="0"), Field("per_parcel", "Post, there and back", "number", hint="0"),
        Field("parcel_rolls", "Rolls a parcel", "whole", hint="any"), Field("tax", "Tax, %", "number", unit=100, hint="0"), Field("days", "Days away", "whole", hint="0"),
    )),
    Table("tanks", "Tanks", "The one with most reels is used.", "Another tank", (
        Field("id", "Tank"), Field("volume_ml", "Holds, mL", "number"), Field("reels", "Reels", "whole", hint="1"),
    )),
)  # fmt: skip
ALONE = (
    Field("today", "Today", "date"), Field("horizon_days", "Look ahead, days", "whole", hint="60"),
    Field("session_cost", "A session's trouble", "number", hint="0"), Field("waiting_cost_per_roll_day", "A day's wait, a roll", "number", hint="0"),
    Field("clip_cost", "A test clip", "number", hint="no clips"),
)  # fmt: skip


def request_of(form: FormData) -> dict[str, Any]:
    """The request that a filled form asks; rows without a name are left out. Unusable names the field."""
    given = _row(form, ALONE, "")
    for table in TABLES:
        rows = [_row(form, table.fields, f"{table.key} {n} ") for n in _numbers(form, table.key)]
        given[table.key] = [row for row in rows if row.get("id")]
    return given


def _numbers(form: FormData, key: str) -> list[int]:
    found = {int(m[1]) for name in form if (m := re.fullmatch(rf"{key} (\d{{1,4}}) id", name))}
    if len(found) > MOST_ROWS:
        raise Unusable(f"{key}: at most {MOST_ROWS} rows", "plan")
    return sorted(found)


def _row(form: FormData, fields: Sequence[Field], prefix: str) -> dict[str, Any]:
    name = str(form.get(f"{prefix}id", "")).strip()
    row = {field.key: _value(form, field, prefix, name) for field in fields}
    return {key: value for key, value in row.items() if value is not None}


def _value(form: FormData, field: Field, prefix: str, name: str) -> Any:
    if field.kind == "choices":
        return [str(one) for one in form.getlist(prefix + field.key)] if name else None
    text = str(form.get(prefix + field.key) or "").strip()
    if field.kind == "tick":
        return bool(text)
    if not text or (not name and prefix):
        if name and field.needed:
            raise Unusable(f"{name}: {field.say} is needed; empty the name to leave the row out", "plan")
        return None
    if field.kind in NUMBERS:
        return number_of(text, field, name)
    return text[:200]


def rows_of(given: Mapping[str, Any], blank: str | None = None) -> dict[str, list[dict[str, Any]]]:
    """What the form's rows hold for a request, in the form's units; `blank` names a table that gets an empty row more."""
    shown = {t.key: [_shown(row, t.fields) for row in _listed(given, t.key)] for t in TABLES}
    for key, rows in shown.items():
        if key == blank or (not rows and key != "baths"):
            rows.append({})
    return shown


def alone_of(given: Mapping[str, Any]) -> dict[str, Any]:
    """What the form's single fields hold for a request."""
    return _shown(given, ALONE)


def _listed(given: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    rows = given.get(key) or []
    return [row for row in rows if isinstance(row, Mapping)] if isinstance(rows, list) else []


def _shown(row: Mapping[str, Any], fields: Sequence[Field]) -> dict[str, Any]:
    draw: dict[str, Callable[[Any, Field], Any]] = {"number": _in_words, "whole": _in_words}
    return {
        f.key: draw.get(f.kind, lambda value, _: value)(row[f.key], f)
        for f in fields
        if row.get(f.key) is not None
    }


def _in_words(value: Any, field: Field) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return f"{value * field.unit:.{field.figures}g}"
