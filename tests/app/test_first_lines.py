"""A first look kept as lines: nothing is lost when it is refused, and causes read what was kept."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from wetside.app.book import note
from wetside.app.faults.causes import causes_of_run
from wetside.app.faults.first_lines import keep_look
from wetside.app.faults.look import look_again
from wetside.app.reading import looked
from wetside.app.shelf import shelf
from wetside.figures.finding import Unusable
from wetside.store.ledger import Ledger


@pytest.fixture
def scans(tmp_path: Path) -> Path:
    """Three JPEG files and one that is damaged."""
    folder = tmp_path / "from the flatbed"
    folder.mkdir()
    rng = np.random.default_rng(4)
    for n in range(3):
        soft = cv2.GaussianBlur(rng.uniform(60, 190, (240, 360, 3)).astype(np.float32), (0, 0), 9)
        cv2.imwrite(str(folder / f"scan_{n}.jpg"), soft.astype(np.uint8))
    (folder / "scan_9.jpg").write_bytes(b"\xff\xd8 no picture")
    (folder / "notes.txt").write_text("developed on Tuesday")
    return folder


def test_a_look_becomes_the_first_lines_of_a_book(scans: Path, tmp_path: Path) -> None:
    home = tmp_path / "book"
    answers = {"stays with": "the film", "in unexposed film": "yes"}
    count = keep_look(home, scans, "R01", "DAY90", "135", answers)
    with Ledger.open(home) as book:
        lines = list(book.lines())
    kinds = [line.kind for line in lines]
    assert count == len(lines) == 1 + 4 + 1 + 2
    assert kinds.count("scan") == 4 and kinds.count("measured") == 1 and kinds.count("judged") == 2
    assert sorted(path.name for path in (home / "scans" / "R01").iterdir()) == [
        f"scan_{n}.jpg" for n in (0, 1, 2, 9)
    ]
    assert len(list(scans.iterdir())) == 5  # the originals stay
    assert causes_of_run(home, "R01")["schema"] == "wetside.causes/1"


def test_a_look_is_refused_in_words_and_nothing_is_lost(scans: Path, tmp_path: Path) -> None:
    home = tmp_path / "book"
    keep_look(home, scans, "R01", "DAY90", "135")
    for roll, stock, gauge, word in (
        ("R01", "DAY90", "135", "already"),
        ("../R02", "DAY90", "135", "name"),
        ("look-abc", "DAY90", "135", "name"),
        ("R02", " ", "135", "stock"),
        ("R02", "DAY90", "8mm", "gauge"),
    ):
        with pytest.raises(Unusable, match=word):
            keep_look(home, scans, roll, stock, gauge, move=True)
    assert len(list(scans.iterdir())) == 5
    with Ledger.open(home) as book:
        assert sum(line.kind == "roll" for line in book.lines()) == 1


def test_scans_that_lie_there_already_are_not_written_over(scans: Path, tmp_path: Path) -> None:
    home = tmp_path / "book"
    (home / "scans" / "R01").mkdir(parents=True)
    with pytest.raises(Unusable, match="already"):
        keep_look(home, scans, "R01", "DAY90", "135")
    assert not (home / "book.sqlite").exists()


def test_an_answer_does_not_look_anew_and_another_scan_does(
    scans: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken = []
    real = looked.looked_at
    monkeypatch.setattr(
        looked, "looked_at", lambda folder, progress: taken.append(1) or real(folder, progress)
    )
    first = look_again(scans, None)
    again = look_again(scans, {"stays with": "the scanner"})
    assert len(taken) == 1 and len(again["questions"]) == len(first["questions"]) - 1
    assert again["verdict"]["where"] == "scanner"
    (scans / "scan_3.jpg").write_bytes((scans / "scan_0.jpg").read_bytes())
    assert len(look_again(scans, None)["frames"]) == 4 and len(taken) == 2


def test_a_roll_that_was_written_down_takes_its_scans_and_keeps_its_own_lines(
    scans: Path, tmp_path: Path
) -> None:
    home = tmp_path / "book"
    note(home, "roll", {"roll": "N1", "stock": "DUSK200", "gauge": "110"})
    note(home, "run", {"run": "run-1", "process": "ecn-2"})
    keep_look(home, scans, "N1", "", "")
    (roll,) = shelf(home)["rolls"]
    assert (roll["stock"], roll["gauge"], roll["scans"]) == ("DUSK200", "110", 4)
    with Ledger.open(home) as book:
        assert len(book.lines(kind="roll")) == 1
    with pytest.raises(Unusable, match="has scans of N1 already"):
        keep_look(home, scans, "N1", "", "")
