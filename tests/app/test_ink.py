"""The book as a diary: every kind in words, alike lines folded, nothing left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.app.book import note
from wetside.app.ink import SORTS, ink
from wetside.app.ink_words import WORDS, sentence
from wetside.book.kinds import KINDS
from wetside.book.line import Line
from wetside.book.text import line_of
from wetside.demo.story import told
from wetside.store.ledger import Ledger


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("diary")
    with Ledger.open(place) as book:
        book.append_lines([line_of(t.body, name=t.id, happened_at=t.at, noted_at=t.at) for t in told()])
    for frame in range(1, 6):
        note(place, "scan", {"roll": "R10", "file": f"{frame}.tif", "sha256": "0" * 64, "frame": str(frame)})
    return place


def test_every_kind_has_words_and_a_sort() -> None:
    assert set(KINDS) - set(WORDS) == {"process"}, "a process is its steps"
    assert set(KINDS) == {kind for kinds in SORTS.values() for kind in kinds}


def test_every_line_says_something_and_says_it_plainly(home: Path) -> None:
    for line in ink(home)["lines"]:
        assert line["say"] and "None" not in line["say"] and "{" not in line["say"], line


def test_days_hold_every_line_once_and_fold_a_heap(home: Path) -> None:
    read = ink(home)
    held = [line["id"] for day in read["days"] for entry in day["entries"] for line in entry["lines"]]
    assert held == [line["id"] for line in read["lines"]]
    newest = read["days"][0]["entries"][0]
    assert newest["say"] == "5 scans of R10" and len(newest["lines"]) == 5


def test_a_sort_shows_its_kinds_alone(home: Path) -> None:
    assert {line["kind"] for line in ink(home, sort="film")["lines"]} <= set(SORTS["film"])
    assert ink(home, sort="nothing of the kind")["count"] == ink(home)["count"]


@pytest.mark.parametrize(
    ("kind", "body", "said"),
    [
        ("exposed", {"roll": "A", "first_frame": 3, "last_frame": 3, "stops": -1, "ei": 80.0, "note": "rain"}, "frame 3 of A exposed, at EI 80, 1 stop under; rain"),
        ("parcel", {"parcel": "P", "laboratory": "L", "rolls": ["A", "B"], "way": "returned"}, "A, B back from L, parcel P"),
        ("run event", {"run": "1", "event": "temperature", "fields": {"celsius": 41, "step": "developer"}}, "41.0 °C, developer"),
        ("roll", {"roll": "of a later program", "length": 3}, "roll of a later program, length 3"),
        ("unheard of", {"answer": 42, "deep": {"x": 1}}, "answer 42"),
    ],
)  # fmt: skip
def test_a_line_in_words(kind: str, body: dict[str, object], said: str) -> None:
    line = Line(id="x", kind=kind, version=1, happened_at=0.0, noted_at=0.0, touches=(), body=body)
    assert sentence(line) == said
