"""The book on disk: append-only lines in SQLite. Triggers refuse update and delete; what was acknowledged stays.

One writer at a time (SQLite's own lock, taken at once), write-ahead log, full synchronisation: a line is
acknowledged only after it is on the disk.
"""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from wetside.book.kinds import Body
from wetside.book.life import struck_ids
from wetside.book.line import THING_KINDS, Line, Thing
from wetside.book.text import ID, Malformed, line_of, read, written
from wetside.figures.finding import Unusable
from wetside.store import clock

FILE = "book.sqlite"
APPLICATION = 0x77657473  # "wets"

MIGRATIONS: tuple[str, ...] = (
    """
    CREATE TABLE line (
      n INTEGER PRIMARY KEY AUTOINCREMENT, id TEXT NOT NULL UNIQUE, kind TEXT NOT NULL, text TEXT NOT NULL
    ) STRICT;
    CREATE TABLE touch (thing TEXT NOT NULL, n INTEGER NOT NULL, PRIMARY KEY (thing, n)) STRICT, WITHOUT ROWID;
    CREATE INDEX line_kind ON line (kind);
    CREATE TRIGGER line_stays BEFORE UPDATE ON line BEGIN SELECT RAISE(ABORT, 'a line is never edited'); END;
    CREATE TRIGGER line_kept BEFORE DELETE ON line BEGIN SELECT RAISE(ABORT, 'a line is never lost'); END;
    CREATE TRIGGER touch_stays BEFORE UPDATE ON touch BEGIN SELECT RAISE(ABORT, 'a line is never edited'); END;
    CREATE TRIGGER touch_kept BEFORE DELETE ON touch BEGIN SELECT RAISE(ABORT, 'a line is never lost'); END;
    """,
    # the latest lines of a long book, found without reading all of it
    "CREATE INDEX line_happened ON line (json_extract(text, '$[3]'));",
)


class Ledger:
    """An open book. Use as a context manager."""

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._db, self.path = connection, path

    @classmethod
    def open(cls, home: Path, *, must_exist: bool = False) -> Ledger:
        """Open or begin the book in a folder; Unusable when the file is foreign or cannot be used."""
        path = home / FILE
        if must_exist and not path.exists():
            raise Unusable("no book here yet; `wetside demo` or `wetside note` begins one", str(home))
        try:
            home.mkdir(parents=True, exist_ok=True)
            connection = sqlite3.connect(path, timeout=20, isolation_level=None, check_same_thread=False)
            _prepare(connection, path)
        except (sqlite3.Error, OSError) as slip:
            raise Unusable(f"this is not a book that can be opened: {slip}", str(path)) from None
        return cls(connection, path)

    def __enter__(self) -> Ledger:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, slip: BaseException | None, at: TracebackType | None
    ) -> None:
        self._db.close()

    def append(
        self, body: Body, *, happened_at: float, id: str | None = None, noted_at: float | None = None
    ) -> tuple[Line, bool]:
        """Write a line; (line, True) once it is durable, (line, False) when the same line was there.

        The same id with another content is Unusable: an id belongs to one line for ever.
        """
        noted = clock.wall() if noted_at is None else noted_at
        line = line_of(body, name=id or uuid.uuid4().hex, happened_at=happened_at, noted_at=noted)
        [(kept, new)] = self.append_lines([line])
        return kept, new

    def append_lines(self, lines: Iterable[Line]) -> list[tuple[Line, bool]]:
        """Write lines in one transaction: all of them or, when one cannot be, none."""
        with self._writing():
            return [self._put(line) for line in lines]

    @contextmanager
    def _writing(self) -> Iterator[None]:
        try:
            self._db.execute("BEGIN IMMEDIATE")
            yield
            self._db.execute("COMMIT")
        except sqlite3.Error as slip:
            self._roll_back()
            raise Unusable(
                f"the book could not be written, nothing was lost: {slip}", str(self.path)
            ) from None
        except BaseException:
            self._roll_back()
            raise

    def _roll_back(self) -> None:
        if self._db.in_transaction:
            self._db.execute("ROLLBACK")

    def _put(self, line: Line) -> tuple[Line, bool]:
        if not ID.match(line.id):
            raise Unusable(f"an id has 1–64 characters A–Z a–z 0–9 . _ -, found {line.id!r}", "line")
        there = self._db.execute("SELECT text FROM line WHERE id = ?", (line.id,)).fetchone()
        if there:
            kept = read(there[0])
            if _content(kept) != _content(line):
                raise Unusable(f"the id {line.id} belongs to another line", "line")
            return kept, False
        text = written(line)
        n = self._db.execute(
            "INSERT INTO line (id, kind, text) VALUES (?, ?, ?)", (line.id, line.kind, text)
        ).lastrowid
        rows = [(str(thing), n) for thing in dict.fromkeys(line.touches)]
        self._db.executemany("INSERT INTO touch (thing, n) VALUES (?, ?)", rows)
        return line, True

    def lines(
        self,
        *,
        thing: Thing | None = None,
        kind: str | Collection[str] | None = None,
        after: int = 0,
        include_struck: bool = False,
    ) -> list[Line]:
        """Lines in the order of noting, of one thing, of some kinds, or those noted after the n-th; struck ones left out."""
        kinds = [kind] if isinstance(kind, str) else kind
        found = [read(text) for (text,) in self._texts(thing, kinds, after)]
        if include_struck:
            return found
        struck = self.struck()
        return [line for line in found if line.id not in struck]

    def _texts(self, thing: Thing | None, kinds: Collection[str] | None, after: int = 0) -> sqlite3.Cursor:
        query, values = "SELECT line.text FROM line", list[object]()
        if thing is not None:
            query += " JOIN touch ON touch.n = line.n AND touch.thing = ?"
            values.append(str(thing))
        query += " WHERE line.n > ?"
        values.append(after)
        if kinds is not None:
            query += f" AND line.kind IN ({', '.join('?' * len(kinds))})"
            values += kinds
        return self._db.execute(query + " ORDER BY line.n", values)

    def line(self, name: str) -> Line | None:
        """The line of that id, struck or not; None where there is none."""
        found = self._db.execute("SELECT text FROM line WHERE id = ?", (name,)).fetchone()
        return read(found[0]) if found else None

    def latest(self, most: int) -> list[Line]:
        """The lines that happened last, the last one first, struck ones too."""
        order = "ORDER BY json_extract(text, '$[3]') DESC, n DESC LIMIT ?"
        return [read(text) for (text,) in self._db.execute(f"SELECT text FROM line {order}", (most,))]

    def things_named(self, name: str) -> list[Thing]:
        """The things of that name that a line touches, one a kind at most."""
        asked = [f"{kind}:{name}" for kind in THING_KINDS]
        query = f"SELECT DISTINCT thing FROM touch WHERE thing IN ({', '.join('?' * len(asked))})"
        return [Thing.parse(thing) for (thing,) in self._db.execute(query, asked)]

    def struck(self) -> frozenset[str]:
        """Ids of the lines that are struck through."""
        return struck_ids(read(text) for (text,) in self._texts(None, ("correction",)))

    def texts(self) -> Iterator[str]:
        """Every line as text, in the order of noting."""
        return (text for (text,) in self._texts(None, None))

    def count(self) -> int:
        """How many lines there are."""
        return int(self._db.execute("SELECT count(*) FROM line").fetchone()[0])

    def last(self) -> tuple[int, str | None]:
        """Number and id of the line noted last; (0, None) in an empty book."""
        found = self._db.execute("SELECT n, id FROM line ORDER BY n DESC LIMIT 1").fetchone()
        return (int(found[0]), str(found[1])) if found else (0, None)

    def holds(self, number: int, name: str | None) -> bool:
        """Whether the line of that number is the one of that id: what rests on the lines up to it still stands."""
        found = self._db.execute("SELECT id FROM line WHERE n = ?", (number,)).fetchone()
        return (found[0] if found else None) == name

    def faults(self) -> list[str]:
        """What is wrong with the book, one line each; empty when all holds."""
        found = [str(row[0]) for row in self._db.execute("PRAGMA integrity_check") if row[0] != "ok"]
        names = {
            name for (name,) in self._db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        }
        wanted = {"line_stays", "line_kept", "touch_stays", "touch_kept"}
        found += [f"the guard {name} is missing" for name in sorted(wanted - names)]
        ids = {name for (name,) in self._db.execute("SELECT id FROM line")}
        for text in self.texts():
            try:
                line = read(text)
            except Malformed as slip:
                found.append(str(slip))
                continue
            strikes = line.body.get("strikes") if line.kind == "correction" else None
            if strikes is not None and strikes not in ids:
                found.append(f"line {line.id} strikes {strikes!r}, which is not in the book")
        return found


def _content(line: Line) -> tuple[object, ...]:
    return line.kind, line.version, line.happened_at, line.touches, line.body


def _prepare(db: sqlite3.Connection, path: Path) -> None:
    (application,) = db.execute("PRAGMA application_id").fetchone()
    (version,) = db.execute("PRAGMA user_version").fetchone()
    (tables,) = db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if application not in (0, APPLICATION) or (application == 0 and tables):
        raise Unusable("this database is another program's", str(path))
    if version > len(MIGRATIONS):
        raise Unusable(
            f"this book is of a later version ({version}); this program reads up to {len(MIGRATIONS)}",
            str(path),
        )
    db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    for number in range(version, len(MIGRATIONS)):
        db.executescript(
            f"BEGIN IMMEDIATE; {MIGRATIONS[number]} PRAGMA application_id = {APPLICATION}; "
            f"PRAGMA user_version = {number + 1}; COMMIT;"
        )
