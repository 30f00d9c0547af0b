"""The lines that can tell of a run or a roll: read once, and taken on by what was noted since."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

from wetside.app.faults.own_runs import measured_runs
from wetside.book.kinds import KINDS
from wetside.book.life import standing
from wetside.book.line import Line, Thing
from wetside.figures.finding import Unusable
from wetside.store.ledger import Ledger

#: The standing lines that can tell of some runs or rolls, and all runs by name.
Told = tuple[list[Line], dict[str, Line]]
#: Kinds of lines of which a long book has many; they are read for the things in question alone.
MANY = ("run event", "scan", "exposed", "measured", "print trim", "print greys", "note")
#: For how many questions the lines are kept: what a person goes to and fro between.
MOST = 4


@dataclass(frozen=True)
class Read:
    """Lines that were read up to the one of a number and an id, and the things of which the many kinds are among them."""

    number: int
    last: str | None
    lines: list[Line]
    things: set[Thing]


_read: OrderedDict[tuple[Path, tuple[str, ...]], Read] = OrderedDict()
_lock = Lock()


def told_of_book(home: Path, *names: str) -> Told:
    """The standing lines that can tell of some runs or rolls, and all runs by name; Unusable where one is neither.

    Of the kinds a long book is full of, only the lines of these runs and rolls are read, and of rolls that were judged.
    Lines are kept in memory, and only those noted since are read as long as they strike nothing and bring nothing new in.
    """
    key = home.resolve(), names
    with _lock:
        before = _read.get(key)
    with Ledger.open(home, must_exist=True) as book:
        found = (before and grown(book, before, names)) or read_anew(book, names)
    with _lock:
        _read[key] = found
        _read.move_to_end(key)
        while len(_read) > MOST:
            _read.popitem(last=False)
    return standing(found.lines), runs_of(found.lines)


def read_anew(book: Ledger, names: tuple[str, ...]) -> Read:
    """All of them from the book."""
    number, last = book.last()
    lines = book.lines(kind=[kind for kind in KINDS if kind not in MANY])
    things = asked(lines, names)
    for thing in things:
        lines += book.lines(thing=thing, kind=MANY)
    return Read(number, last, list({line.id: line for line in lines}.values()), things)


def grown(book: Ledger, before: Read, names: tuple[str, ...]) -> Read | None:
    """The same with what was noted since; None where a line was struck or more things are asked of."""
    if not book.holds(before.number, before.last):
        return None
    number, last = book.last()
    new = book.lines(after=before.number, include_struck=True)
    if any(line.kind == "correction" for line in new):
        return None
    fit = [line for line in new if line.kind not in MANY or before.things.intersection(line.touches)]
    lines = list({line.id: line for line in (*before.lines, *fit)}.values())
    things = asked([line for line in lines if line.kind not in MANY], names) if fit else before.things
    return Read(number, last, lines, before.things) if things <= before.things else None


def asked(lines: list[Line], names: tuple[str, ...]) -> set[Thing]:
    """Things of which all lines are wanted; Unusable where a name is neither a run nor a roll."""
    runs = runs_of(lines)
    rolls = {str(line.body["roll"]) for line in lines if line.kind == "roll"}
    for name in names:
        if name not in runs and name not in rolls:
            near = ", ".join([*sorted(runs), *sorted(rolls)][:12]) or "none yet"
            raise Unusable(f"no run or roll {name[:60]!r} in the book; there are: {near}", "causes")
    return about(lines, runs, names)


def runs_of(lines: Iterable[Line]) -> dict[str, Line]:
    """All runs by name."""
    return {str(line.body["run"]): line for line in lines if line.kind == "run"}


def about(lines: list[Line], runs: Mapping[str, Line], names: Iterable[str]) -> set[Thing]:
    """Runs and rolls that must be known to speak of some of them: they themselves, rolls that were judged, runs with a strip."""
    own = [run for name in names if (run := run_of(runs, name)) is not None]
    own += [run for one in own[:1] for run in measured_runs(lines, runs, one)]
    judged = {str(line.body["roll"]) for line in lines if line.kind == "judged"}
    rolls = judged.union(*(rolls_of(runs, name) for name in names))
    return {Thing("run", str(run.body["run"])) for run in own} | {Thing("roll", roll) for roll in rolls}


def run_of(runs: Mapping[str, Line], name: str) -> Line | None:
    """The run of that name, or the run that a roll went through."""
    return runs.get(name) or next(
        (r for r in runs.values() if any(e.get("roll") == name for e in entries(r))), None
    )


def rolls_of(runs: Mapping[str, Line], name: str) -> list[str]:
    """The roll itself, or all rolls of a run."""
    return [name] if name not in runs else [str(e.get("roll")) for e in entries(runs[name])]


def entries(run: Line) -> list[dict[str, Any]]:
    """What a run says of each of its rolls."""
    return list(run.body.get("rolls", ()))  # type: ignore[call-overload]
