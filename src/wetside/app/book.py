"""The book as a whole: export, import, check, write a line, strike one through."""

from __future__ import annotations

import os
from dataclasses import fields
from datetime import date, datetime
from pathlib import Path
from typing import get_type_hints

from wetside.book.fit import misfit
from wetside.book.kinds import KINDS, Body, Correction, Note
from wetside.book.line import Line, Thing
from wetside.book.text import HEADER, Malformed, read
from wetside.figures.finding import Unusable
from wetside.store import clock
from wetside.store.ledger import Ledger
from wetside.store.scans.sinks import sweep_halves

MOST_TEXT = 400_000_000


def export_book(home: Path, file: Path, *, overwrite: bool = False) -> dict[str, object]:
    """Write the whole book as text, beside its place first; an existing file is refused without `overwrite`."""
    if file.exists() and not overwrite:
        raise Unusable("exists already; say --overwrite to replace it", str(file))
    with Ledger.open(home, must_exist=True) as book:
        sweep_halves(file)
        beside = file.with_name(f".{file.name}.{os.getpid()}.part")
        try:
            with beside.open("w", encoding="utf-8", newline="\n") as out:
                out.write(HEADER + "\n")
                out.writelines(text + "\n" for text in book.texts())
                out.flush()
                os.fsync(out.fileno())
            beside.replace(file)
        except OSError as slip:
            raise Unusable(f"could not be written: {slip.strerror}", str(file)) from None
        finally:
            beside.unlink(missing_ok=True)
        return {"schema": "wetside.book/1", "did": "export", "lines": book.count(), "file": str(file)}


def import_book(home: Path, file: Path) -> dict[str, object]:
    """Take in every line of a text file, all in one transaction; what is there already is passed over."""
    lines = lines_of(file)
    with Ledger.open(home) as book:
        kept = book.append_lines(lines)
    new = sum(is_new for _, is_new in kept)
    return {"schema": "wetside.book/1", "did": "import", "lines": len(lines), "new": new, "file": str(file)}


def lines_of(file: Path) -> list[Line]:
    """All lines of a text file, judged before anything is written; Unusable names the first bad one."""
    try:
        if file.stat().st_size > MOST_TEXT:
            raise Unusable(f"larger than {MOST_TEXT:,} bytes", str(file))
        text = file.read_bytes().decode("utf-8")
    except OSError as slip:
        raise Unusable(f"cannot be read: {slip.strerror}", str(file)) from None
    except UnicodeDecodeError as slip:
        raise Unusable(
            f"expected UTF-8 text, found byte {slip.object[slip.start]:#x} at {slip.start}", str(file)
        ) from None
    rows = text.split("\n")
    if rows[0] != HEADER:
        raise Unusable(f"expected the first line {HEADER!r}, found {rows[0][:40]!r}", f"{file}:1")
    found, seen = list[Line](), dict[str, int]()
    for number, row in enumerate(rows[1:], 2):
        if not row and number == len(rows):
            break
        try:
            line = read(row)
        except Malformed as slip:
            raise Unusable(str(slip), f"{file}:{number}") from None
        if (wrong := misfit(line)) is not None:
            raise Unusable(wrong, f"{file}:{number}")
        if line.id in seen:
            raise Unusable(f"the id {line.id} stands on line {seen[line.id]} already", f"{file}:{number}")
        seen[line.id] = number
        found.append(line)
    return found


def check_book(home: Path) -> dict[str, object]:
    """Whether the book holds together: the file, its guards, its lines, what corrections name."""
    with Ledger.open(home, must_exist=True) as book:
        faults = book.faults()
        faults += (
            [f"line {line.id}: {wrong}" for line in book.lines() if (wrong := misfit(line)) is not None]
            if not faults
            else []
        )
        return {"schema": "wetside.book/1", "did": "check", "lines": book.count(), "faults": faults}


def note(home: Path, kind: str, values: dict[str, str], happened_at: float | None = None) -> Line:
    """Write a line of a kind from words; Unusable names unknown kinds and fields and what is allowed."""
    return append(home, body_from_words(kind, values), happened_at)


def append(home: Path, body: Body, happened_at: float | None = None) -> Line:
    """Write a line that happened at a time, now when none is given."""
    with Ledger.open(home) as book:
        line, _ = book.append(body, happened_at=clock.wall() if happened_at is None else happened_at)
    return line


def happened(text: str | None, where: str) -> float | None:
    """Seconds since 1970 UTC from ISO 8601; a time without a zone is local. Unusable names `where`."""
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text).timestamp()
    except (ValueError, OverflowError, OSError):
        raise Unusable(f"{where}: expected a time like 2026-03-01T19:30, found {text!r}", where) from None


def free_note(home: Path, text: str, about: tuple[str, ...], happened_at: float | None = None) -> Line:
    """Free words about any things: kind:name, or a name alone where the book holds one thing of that name."""
    about = tuple(name if ":" in name else str(thing_named(home, name)) for name in about)
    try:
        body = Note(text=text, about=about)
        body.touches()
    except ValueError as slip:
        raise Unusable(str(slip), "--about") from None
    return append(home, body, happened_at)


def thing_named(home: Path, name: str) -> Thing:
    """The one thing of that name in the book; Unusable where there is none, or more than one."""
    with Ledger.open(home) as book:
        found = book.things_named(name)
    if len(found) == 1:
        return found[0]
    which = f"is more than one thing: say {' or '.join(map(str, found))}" if found else "is nothing the book knows; say kind:name, as in roll:R01"  # fmt: skip
    raise Unusable(f"{name!r} {which}", "about")


def strike(home: Path, name: str, reason: str) -> Line:
    """Strike a line through; Unusable when there is no such line."""
    with Ledger.open(home, must_exist=True) as book:
        if book.line(name) is None:
            raise Unusable(f"no line {name!r} in the book", "line")
        line, _ = book.append(Correction(strikes=name, reason=reason), happened_at=clock.wall())
    return line


def body_from_words(kind: str, values: dict[str, str]) -> Body:
    """A body from field=value words; numbers, lists (comma) and dates are understood by the field's type."""
    body = KINDS.get(kind)
    if body is None:
        raise Unusable(f"no kind of line {kind!r}; one of {', '.join(KINDS)}", "kind")
    hints = get_type_hints(body)
    names = [one.name for one in fields(body)]
    unknown = [name for name in values if name not in names]
    if unknown:
        raise Unusable(f"{kind} has no field {unknown[0]!r}; its fields: {', '.join(names)}", "field")
    given = {name: _value(kind, name, text, str(hints[name])) for name, text in values.items()}
    try:
        return body(**given)
    except TypeError:
        missing = [one.name for one in fields(body) if one.name not in given and _needed(one)]
        raise Unusable(f"{kind} needs {', '.join(missing)}", "field") from None


def _needed(one: object) -> bool:
    from dataclasses import MISSING

    return one.default is MISSING and one.default_factory is MISSING  # type: ignore[attr-defined]


def _value(kind: str, name: str, text: str, hint: str) -> object:
    try:
        if name.endswith("_on"):
            return date.fromisoformat(text).isoformat()
        if hint.startswith("dict[str, float"):
            r, g, b = (float(part) for part in text.split(","))
            return {"r": r, "g": g, "b": b}
        if hint.startswith("tuple[int"):
            return tuple(int(part) for part in text.split(",") if part.strip())
        if "float" in hint:
            return float(text)
        if "int" in hint and "str" not in hint:
            return int(text)
        if hint.startswith("tuple[str"):
            return tuple(part.strip() for part in text.split(",") if part.strip())
        if "bool" in hint:
            return {"yes": True, "true": True, "no": False, "false": False}[text.lower()]
    except (ValueError, KeyError):
        raise Unusable(f"{kind}.{name}: {text!r} does not fit; expected {_expected(hint)}", name) from None
    return text


def _expected(hint: str) -> str:
    """What a field takes, in words."""
    return {"dict[str, float]": "three numbers r,g,b", "tuple[int, ...]": "whole numbers with commas"}.get(
        hint, hint.replace("float | None", "a number")
    )
