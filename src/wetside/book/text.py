"""The book as text: one JSON array a line, in the order of noting, under a header that names the version.

    wetside book 1
    ["id","kind",version,happened_at,noted_at,["roll:R01",…],{body}]

Keys of a body are sorted, numbers are written by their shortest exact form, characters stand as themselves
(line breaks inside strings are escaped by JSON), so that export → import → export is the same to the byte.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import asdict

from wetside.book.kinds import Body
from wetside.book.line import Line, Thing

HEADER = "wetside book 1"
ID = re.compile(r"[A-Za-z0-9._-]{1,64}\Z")


def _no_constant(name: str) -> object:
    raise ValueError(f"{name} is not a number of this book")


DECODER = json.JSONDecoder(parse_constant=_no_constant)


class Malformed(ValueError):
    """A text line that is not a line of the book. The message says what was expected and what was found."""


def compact(value: object) -> str:
    """JSON in this book's one way of writing it."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def written(line: Line) -> str:
    """One line of the book as text, without its line break."""
    touches = [str(thing) for thing in line.touches]
    return compact([line.id, line.kind, line.version, line.happened_at, line.noted_at, touches, line.body])


def read(text: str) -> Line:
    """A line of the book from its text; Malformed when it is not one."""
    try:
        parts = DECODER.decode(text)
    except (ValueError, RecursionError) as slip:
        raise Malformed(f"expected a JSON array, found {text[:40]!r} ({slip})") from None
    if not isinstance(parts, list) or len(parts) != 7:
        raise Malformed(f"expected an array of 7, found {text[:40]!r}")
    name, kind, version, happened, noted, touches, body = parts
    if not isinstance(name, str) or not ID.match(name):
        raise Malformed(f"expected an id of 1–64 characters A–Z a–z 0–9 . _ -, found {name!r}")
    if not isinstance(kind, str) or not isinstance(version, int) or isinstance(version, bool):
        raise Malformed(f"expected a kind and a version number, found {kind!r}, {version!r}")
    if not isinstance(touches, list) or not all(isinstance(one, str) for one in touches):
        raise Malformed(f"expected a list of things, found {touches!r}")
    if not isinstance(body, dict):
        raise Malformed(f"expected a body of fields, found {type(body).__name__}")
    try:
        things = tuple(Thing.parse(one) for one in touches)
    except ValueError as slip:
        raise Malformed(str(slip)) from None
    return Line(name, kind, version, _time(happened), _time(noted), things, body)


def _time(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise Malformed(f"expected seconds since 1970, found {value!r}")
    return float(value)


def line_of(body: Body, *, name: str, happened_at: float, noted_at: float) -> Line:
    """A line from a body of a known kind; its things are those the body says it touches."""
    content = json.loads(compact(asdict(body)))
    return Line(name, body.kind, body.version, float(happened_at), float(noted_at), body.touches(), content)
