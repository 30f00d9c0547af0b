"""The shelf: derived from lines alone; a kept summary equals a fresh one and may be dropped."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest

from wetside.app.book import strike
from wetside.app.processing.bottles import bottled, empty
from wetside.app.shelf import shelf, shelf_of
from wetside.book.kinds import Correction, Measured, Note, RollLoaded, ScanAttached
from wetside.book.text import line_of
from wetside.demo.story import BEGAN, told
from wetside.figures.finding import Unusable
from wetside.store.ledger import Ledger
from wetside.store.summaries import FOLDER

NOW = BEGAN.timestamp() + 62 * 86400


@pytest.fixture
def home(tmp_path: Path) -> Path:
    with Ledger.open(tmp_path) as book:
        book.append_lines([line_of(t.body, name=t.id, happened_at=t.at, noted_at=t.at) for t in told()])
    return tmp_path


@pytest.mark.independent(how="the summary dropped and made anew, and the lines read without any")
def test_a_kept_summary_equals_a_fresh_one(home: Path) -> None:
    first = shelf(home, NOW)
    assert (home / FOLDER / "shelf.json").exists()
    kept = shelf(home, NOW)
    shutil.rmtree(home / FOLDER)
    with Ledger.open(home) as book:
        plain = shelf_of(book.lines(include_struck=True), NOW)
    assert first == kept == shelf(home, NOW) == plain


def test_a_new_line_makes_the_summary_anew(home: Path) -> None:
    before = {r["roll"]: r["status"] for r in shelf(home, NOW)["rolls"]}
    assert before["R08"] == "back from the laboratory" and before["R06"] == "measured"
    with Ledger.open(home) as book:
        struck = next(line.id for line in book.lines(kind="parcel") if line.body["way"] == "returned")
        book.append(Correction(strikes=struck), happened_at=NOW)
        book.append(Note(text="x"), happened_at=NOW)
    assert {r["roll"]: r["status"] for r in shelf(home, NOW)["rolls"]}["R08"] == "at the laboratory"


def test_a_damaged_summary_is_passed_over(home: Path) -> None:
    first = shelf(home, NOW)
    (home / FOLDER / "shelf.json").write_text('{"mark": 3')
    assert shelf(home, NOW) == first


def test_what_is_due_follows_the_time(home: Path) -> None:
    soon = {d["what"] for d in shelf(home, NOW)["due"]}
    later = {d["what"] for d in shelf(home, NOW + 400 * 86400)["due"]}
    assert (
        "bath developer 1" in soon
        and "thermometer kitchen probe" not in soon
        and "thermometer kitchen probe" in later
    )


@pytest.mark.independent(
    how="every line noted in a random order, the shelf grown line by line against one made from all"
)
@pytest.mark.parametrize("seed", range(3))
def test_a_shelf_that_grew_equals_one_made_anew(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    lines = [line_of(t.body, name=t.id, happened_at=t.at, noted_at=t.at) for t in told()]
    lines = [line for line in lines if line.kind != "run event" or chance.random() < 0.1]
    chance.shuffle(lines)
    with Ledger.open(tmp_path) as book:
        while lines:
            count = min(len(lines), chance.randint(1, 9))
            book.append_lines([lines.pop() for _ in range(count)])
            if chance.random() < 0.15:
                struck = chance.choice(book.lines(include_struck=True)).id
                book.append(Correction(strikes=struck), happened_at=NOW)
            assert shelf(tmp_path, NOW) == shelf_of(book.lines(include_struck=True), NOW)


def test_a_note_makes_no_shelf_anew(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = shelf(home, NOW)
    with Ledger.open(home) as book:
        book.append(Note(text="x", about=("roll:R01",)), happened_at=NOW)
    monkeypatch.setattr("wetside.app.shelf.told_of", lambda lines: pytest.fail("all lines were read again"))
    assert shelf(home, NOW) == first


def test_an_emptied_bottle_leaves_the_shelf_and_nothing_else(home: Path) -> None:
    before = shelf(home)
    line = empty(home, "bleach 1")
    after = shelf(home)
    gone = {b["bath"] for b in before["baths"]} - {b["bath"] for b in after["baths"]}
    assert gone == {"bleach 1"} and after["emptied"] == ["bleach 1"]
    assert "bath bleach 1" not in {d["what"] for d in after["due"]}
    with pytest.raises(Unusable, match="no bath 'bleach 1'"):
        empty(home, "bleach 1")
    with pytest.raises(Unusable, match="was emptied"):
        bottled(home, "ecn-2", {"bleach": 1000.0}, {"bleach": "bleach 1"})
    strike(home, line, "it was the fixer")
    assert {b["bath"] for b in shelf(home)["baths"]} == {b["bath"] for b in before["baths"]}


@pytest.mark.parametrize("names", [("a", "b", "c"), ("c", "b", "a")])
def test_a_roll_kept_with_its_scans_is_scanned_whatever_its_lines_are_called(
    names: tuple[str, str, str],
) -> None:
    bodies = (
        RollLoaded(roll="A", stock="S", gauge="135"),
        ScanAttached(roll="A", file="1.jpg", sha256="0" * 64),
        Measured(roll="A", what="read", result={}),
    )
    lines = [line_of(body, name=name, happened_at=NOW, noted_at=NOW) for body, name in zip(bodies, names)]
    (roll,) = shelf_of(lines[::-1], NOW)["rolls"]
    assert (roll["status"], roll["scans"]) == ("measured", 1)
