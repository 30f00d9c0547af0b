"""Lines that are kept in memory and taken on by what was noted since are those that a fresh look at the book gives."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.app.test_causes_of_the_book import MARK, book_of, judged, reading, roll, run

from wetside.app.faults import told
from wetside.app.faults.told import told_of_book
from wetside.book.kinds import Correction, Measured, Note, RunEvent
from wetside.figures.finding import Unusable
from wetside.store.ledger import Ledger


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return book_of(tmp_path, roll("R1"), roll("R2"), roll("R3"), run("run 1", "R1"), run("run 2", "R2"))


def as_fresh(home: Path, *names: str) -> bool:
    """Whether what is kept gives what a look without it gives."""
    kept = told_of_book(home, *names)
    told._read.clear()
    return kept == told_of_book(home, *names)


@pytest.mark.independent(how="the same book read without what is kept, after each line")
def test_what_is_kept_and_taken_on_is_what_a_fresh_look_gives(home: Path) -> None:
    more = [
        Note(text="of R1", about=("roll:R1",)),
        Note(text="of R3", about=("roll:R3",)),
        RunEvent(run="run 1", event="note", fields={"say": "late"}),
        RunEvent(run="run 2", event="note", fields={"say": "of another"}),
        Measured(roll="R1", what="read", result=reading(MARK)),
        judged("R2", "bad"),
        Measured(roll="R2", what="read", result=reading(MARK)),
        run("run 3", "R3"),
        roll("R4"),
    ]
    for body in more:
        told_of_book(home, "R1")
        book_of(home, body)
        assert as_fresh(home, "R1")
    assert not any(
        line.body.get("run") == "run 2" for line in told_of_book(home, "R1")[0] if line.kind == "run event"
    )


def test_a_line_struck_since_is_gone_and_another_book_at_the_place_is_read_anew(home: Path) -> None:
    told_of_book(home, "R1")
    with Ledger.open(home) as book:
        last = book.lines(kind="run")[-1]
        book.append(Correction(strikes=last.id), happened_at=1.78e9)
    assert list(told_of_book(home, "R1")[1]) == ["run 1"] and as_fresh(home, "R1")
    for file in home.glob("book.sqlite*"):
        file.unlink()
    book_of(home, roll("R9"))
    with pytest.raises(Unusable, match="no run or roll"):
        told_of_book(home, "R1")
