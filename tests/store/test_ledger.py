"""The book on disk: nothing acknowledged is lost, nothing written is edited."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from wetside.book.kinds import Correction, Note
from wetside.figures.finding import Unusable
from wetside.store.ledger import APPLICATION, FILE, MIGRATIONS, Ledger

WRITER = """
import sys
from pathlib import Path
from wetside.store.ledger import Ledger
from wetside.book.kinds import Note
with Ledger.open(Path(sys.argv[1])) as book:
    for i in range(100000):
        book.append(Note(text=f"{sys.argv[2]} {i}"), happened_at=i, id=f"{sys.argv[2]}-{i}")
        print(i, flush=True)
"""


@pytest.mark.independent(
    how="a writer killed with −9 at random instants; acknowledged lines counted by another process"
)
def test_no_acknowledged_line_is_lost_by_a_kill(tmp_path: Path) -> None:
    rng = random.Random(5)
    acknowledged: set[str] = set()
    for turn in range(12):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(tmp_path), f"w{turn}"], stdout=subprocess.PIPE, text=True
        )
        assert writer.stdout is not None and writer.stdout.readline() == "0\n"
        time.sleep(rng.random() * 0.35)
        writer.send_signal(signal.SIGKILL)
        told = writer.communicate()[0].split("\n")[:-1]
        acknowledged |= {f"w{turn}-{n}" for n in ("0", *told)}
    with Ledger.open(tmp_path) as book:
        assert acknowledged <= {line.id for line in book.lines()}
        assert book.faults() == []


def test_a_line_can_be_neither_edited_nor_deleted(tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        book.append(Note(text="first", about=("roll:R1",)), happened_at=1, id="a")
    db = sqlite3.connect(tmp_path / FILE)
    for wish in (
        "UPDATE line SET text = 'x'",
        "DELETE FROM line",
        "DELETE FROM touch",
        "UPDATE touch SET thing = 'x'",
    ):
        with pytest.raises(sqlite3.IntegrityError):
            db.execute(wish)
    db.close()


def test_a_repeat_is_the_same_line_and_another_content_is_refused(tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        first, new = book.append(Note(text="a"), happened_at=1, id="x")
        again, second = book.append(Note(text="a"), happened_at=1, id="x")
        assert new and not second and first == again
        with pytest.raises(Unusable, match="another line"):
            book.append(Note(text="b"), happened_at=1, id="x")


def test_a_batch_with_one_bad_line_writes_nothing(tmp_path: Path) -> None:
    from wetside.book.text import line_of

    with Ledger.open(tmp_path) as book:
        lines = [line_of(Note(text="a"), name=n, happened_at=1, noted_at=1) for n in ("ok", "not an id!")]
        with pytest.raises(Unusable):
            book.append_lines(lines)
        assert book.count() == 0


def test_a_foreign_or_damaged_file_is_not_a_book(tmp_path: Path) -> None:
    (tmp_path / FILE).write_bytes(b"not a database at all, but long enough to be one" * 40)
    with pytest.raises(Unusable):
        Ledger.open(tmp_path)
    other = tmp_path / "other"
    other.mkdir()
    db = sqlite3.connect(other / FILE)
    db.execute("CREATE TABLE recipe (x)")
    db.commit()
    db.close()
    with pytest.raises(Unusable, match="another program"):
        Ledger.open(other)


def test_a_full_disk_is_one_line_and_loses_nothing(tmp_path: Path) -> None:
    program = (
        "import resource, sys\nfrom pathlib import Path\nfrom wetside.store.ledger import Ledger\n"
        "from wetside.book.kinds import Note\nfrom wetside.figures.finding import Unusable\n"
        "book = Ledger.open(Path(sys.argv[1]))\nbook.append(Note(text='kept'), happened_at=1, id='kept')\n"
        "import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (40000, 40000))\n"
        "try:\n    book.append(Note(text='x' * 3000000), happened_at=1, id='big')\n"
        "except Unusable as slip:\n    print('refused')\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program, str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert run.stdout.strip() == "refused", run.stderr
    with Ledger.open(tmp_path) as book:
        assert [line.id for line in book.lines()] == ["kept"]


def test_struck_lines_are_left_out_unless_asked_for(tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        book.append(Note(text="a"), happened_at=1, id="a")
        book.append(Correction(strikes="a"), happened_at=2, id="c")
        assert [line.id for line in book.lines()] == ["c"]
        assert [line.id for line in book.lines(include_struck=True)] == ["a", "c"]


@pytest.mark.independent(how="books as each earlier program left them, made by its own statements")
@pytest.mark.parametrize("version", range(1, len(MIGRATIONS)))
def test_a_book_of_every_earlier_schema_opens(tmp_path: Path, version: int) -> None:
    old = sqlite3.connect(tmp_path / FILE)
    for number in range(version):
        old.executescript(MIGRATIONS[number])
    old.execute(f"PRAGMA application_id = {APPLICATION}")
    old.execute(f"PRAGMA user_version = {version}")
    text = '["old-1","note",1,5.0,6.0,["roll:R01"],{"about":["roll:R01"],"text":"noted long ago"}]'
    old.execute("INSERT INTO line (id, kind, text) VALUES ('old-1', 'note', ?)", (text,))
    old.execute("INSERT INTO touch (thing, n) VALUES ('roll:R01', 1)")
    old.commit()
    old.close()
    with Ledger.open(tmp_path) as book:
        book.append(Note(text="and now"), happened_at=9.0)
        assert [line.body["text"] for line in book.lines()] == ["noted long ago", "and now"]
        assert [line.body["text"] for line in book.latest(1)] == ["and now"]
        assert not book.faults() and next(iter(book.texts())) == text


def test_the_latest_lines_are_those_that_happened_last(tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        for at in (5.0, 1e9, 7.5, 7.0):
            book.append(Note(text=str(at)), happened_at=at)
        assert [line.happened_at for line in book.latest(3)] == [1e9, 7.5, 7.0]
        assert book.line("nobody") is None
