"""Fields of forms: what is asked, in which words and units. Units are turned here, at the door."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wetside.figures.finding import Unusable

#: Gauges in the words a form shows.
GAUGES = (("135", "35 mm still"), ("16cine", "16 mm cine"), ("16still", "16 mm still"), ("110", "110"))
PROCESSES = (("ecn-2", "ECN-2"), ("c-41", "C-41"))
NUMBERS = ("number", "signed", "whole")
#: Millimetres: the longest load of a camera, 1,000 ft; a length typed in mm where metres are asked lies far over it.
LONGEST = 305_000
BACKINGS = (("rem-jet", "rem-jet"), ("none", "none"), ("unknown", "not known"))


@dataclass(frozen=True, slots=True)
class Field:
    """One field: its key, its label, its kind, and how many of its units make one of the key's.

    `kind`: text, number, signed (a number that may lie under nothing), whole, date, moment, choice, choices, tick.
    `known`: the names of the book that it offers. `low`, `high`: the least and the most, in the key's unit.
    `figures`: how many of a number are shown.
    """

    key: str
    say: str
    kind: str = "text"
    options: Sequence[tuple[str, str]] = ()
    unit: float = 1.0
    hint: str = ""
    needed: bool = False
    known: str = ""
    low: float | None = None
    high: float | None = None
    figures: int = 6


def number_of(text: str, field: Field, where: str) -> float | int:
    """The number that a field's words give, in the key's unit; a comma or a point parts the decimals.

    Raises Unusable naming `where` and the field when the words are no number, or no whole one where one is asked.
    """
    said = f"{where}: {field.say}" if where else field.say
    try:
        value = float(text.replace(",", ".").replace("−", "-")) / field.unit
    except ValueError:
        value = float("nan")
    if not abs(value) <= 1e12:
        raise Unusable(f"{said}: a number was expected, found {text[:40]!r}", field.key)
    if field.kind == "whole" and value != int(value):
        raise Unusable(f"{said}: a whole number was expected, found {text[:40]!r}", field.key)
    if field.low is not None and value < field.low:
        raise Unusable(f"{said}: at least {field.low * field.unit:g}, found {text[:40]!r}", field.key)
    if field.high is not None and value > field.high:
        raise Unusable(f"{said}: at most {field.high * field.unit:g}, found {text[:40]!r}", field.key)
    return int(value) if field.kind == "whole" else round(value, 9)
