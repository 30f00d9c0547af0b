"""Whether a line that comes from elsewhere is what its kind says: a line that is not would spoil every page for ever."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from wetside.book.kinds import KINDS
from wetside.book.line import Line

MOST = 1e300


def misfit(line: Line) -> str | None:
    """What is wrong with the body of a line of a known kind, in words; None where it fits or the kind is not known here."""
    kind = KINDS.get(line.kind)
    if kind is None:
        return None
    if not 1 <= line.version <= kind.version:
        return f"{line.kind} of version {line.version}; this program reads up to {kind.version}"
    hints = hints_of(line.kind)
    for one in fields(kind):
        if one.name not in line.body:
            if line.version == kind.version and one.default is MISSING and one.default_factory is MISSING:
                return f"{line.kind} lacks its {one.name}"
            continue
        if not fits(line.body[one.name], hints[one.name]):
            return f"{line.kind}: its {one.name} is not what it should be; found {line.body[one.name]!r:.60}"
    return None


@cache
def hints_of(name: str) -> dict[str, Any]:
    return get_type_hints(KINDS[name])


def fits(value: object, hint: Any) -> bool:
    """Whether a JSON value is of a type: lists stand for tuples, whole numbers for numbers."""
    origin, parts = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return any(fits(value, part) for part in parts)
    if origin is Literal:
        return value in parts
    if origin in (tuple, list):
        return isinstance(value, list | tuple) and all(fits(one, parts[0]) for one in value)
    if origin in (dict, Mapping):
        return isinstance(value, dict) and all(fits(one, parts[1]) for one in value.values())
    if hint is float or hint is int:
        whole = hint is float or isinstance(value, int)
        return isinstance(value, int | float) and not isinstance(value, bool) and whole and abs(value) < MOST
    if hint in (None, NoneType):
        return value is None
    return not isinstance(hint, type) or isinstance(value, hint)
