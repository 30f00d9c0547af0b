"""Printing through the server into places that cannot take it, and after kills: one line on the page, nothing lost."""

from __future__ import annotations

import ctypes
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from benchmarks.bad_link import Server

from wetside.app.book import export_book
from wetside.app.printing import print_room
from wetside.book.kinds import Note
from wetside.store.ledger import Ledger
from wetside.store.scans.sinks import sweep_halves

ROLL = "R02"


@pytest.fixture
def home(tmp_path: Path, lay_room: Callable[[Path, str], None]) -> Path:
    """A book with one roll that was read for printing."""
    lay_room(tmp_path, ROLL)
    return tmp_path


def as_anybody() -> None:
    """The process keeps its user and loses what lets a superuser write past a folder's own rights (prctl PR_CAPBSET_DROP)."""
    for right in (1, 2):  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH
        ctypes.CDLL(None).prctl(24, right, 0, 0, 0)


@pytest.fixture
def server(home: Path) -> Iterator[Server]:
    found = Server(home, as_anybody if os.getuid() == 0 else None)
    yield found
    found.kill()


def make(server: Server, wait: bool = True) -> dict[str, object]:
    """Ask for the roll as JPEG by the page's form; what the page's progress says at the end."""
    form = urllib.parse.urlencode({"kind": "jpeg", "door": "fitted", "leave": "cast.mid-tones"}).encode()
    request = urllib.request.Request(f"{server.address}/print/{ROLL}/make", form, {"origin": server.address})
    urllib.request.urlopen(request, timeout=60).close()
    until = time.time() + 900
    while wait and time.time() < until:
        found = server.asked(f"/print/{ROLL}/progress")
        if found["ended"]:
            return found
        time.sleep(0.1)
    return {}


def page_of(server: Server) -> str:
    with urllib.request.urlopen(f"{server.address}/print/{ROLL}", timeout=60) as answer:
        return str(answer.read().decode())


def halves(home: Path) -> list[Path]:
    return list(home.rglob(".*.part*"))


@pytest.mark.parametrize("kind", ["no folder", "read-only"])
def test_a_place_that_cannot_be_written_to_is_one_line_on_the_page(
    server: Server, home: Path, kind: str
) -> None:
    if kind == "no folder":
        (home / "positives").write_text("here")
    else:
        (home / "positives").mkdir(mode=0o555)
    slip = str(make(server)["slip"])
    assert "cannot be written to" in slip and "\n" not in slip
    assert "cannot be written to" in page_of(server)
    if kind == "no folder":
        (home / "positives").unlink()
    else:
        (home / "positives").chmod(0o755)
    assert not make(server)["slip"]


@pytest.mark.independent(
    how="the kernel's own limit on the size of a file, set on the server's process while it runs"
)
def test_a_store_that_takes_no_more_keeps_what_is_finished(server: Server, home: Path) -> None:
    assert not make(server)["slip"]
    made = sorted((home / "positives" / ROLL).glob("*.jpg"))
    keep = {path.name: path.read_bytes() for path in made[1:]}
    made[0].unlink()
    assert server.process is not None
    resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (20_000, resource.RLIM_INFINITY))
    slip = str(make(server)["slip"])
    assert f"{len(keep)} of {len(made)} frames are finished" in slip
    assert f"{len(keep)} of {len(made)} frames are finished" in page_of(server)
    assert not made[0].exists() and not halves(home)
    resource.prlimit(
        server.process.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
    )
    assert f"{len(keep)} of them finished before" in str(make(server)["said"])
    assert {path.name: path.read_bytes() for path in made[1:]} == keep and made[0].exists()


def test_names_that_collide_are_one_line_and_nothing_is_written(server: Server, home: Path) -> None:
    scans = home / "scans" / ROLL
    first = next(
        path
        for path in sorted(scans.iterdir())
        if path.name == print_room.room(home, ROLL)["frames"][0]["file"]
    )
    shutil.copy(first, first.with_name(first.stem.swapcase() + first.suffix))
    slip = str(make(server)["slip"])
    assert "would both be written to" in slip and not (home / "positives").exists()
    assert "would both be written to" in page_of(server)


@pytest.mark.independent(
    how="the server killed with −9 when a half-written picture is seen, then started again"
)
def test_a_killed_printing_leaves_no_half_after_the_next(server: Server, home: Path) -> None:
    out = home / "positives" / ROLL
    make(server, wait=False)
    until = time.time() + 300
    while time.time() < until and not (out.is_dir() and any(out.glob("*.jpg"))):
        time.sleep(0.002)
    server.kill()
    # What a kill in the middle of a write leaves, whether or not this one did.
    dead = dead_process()
    for place in (out / f".x.{dead}.part.jpg", out / ".positive" / f".recipe.{dead}.part.npz"):
        place.write_bytes(b"half")
    server.start()
    assert not make(server)["slip"]
    (out / ".positive" / "recipe.npz").unlink()
    assert not make(server)["slip"]
    assert not halves(home)
    sheet = json.loads((out / "positive.json").read_text())
    assert len(list(out.glob("*.jpg"))) == len(print_room.room(home, ROLL)["frames"]) and sheet


def dead_process() -> int:
    done = subprocess.Popen([sys.executable, "-c", ""])
    done.wait()
    return done.pid


@pytest.mark.independent(how="the command killed with −9 inside its own write of the book's text")
def test_a_killed_export_of_the_book_leaves_no_half_after_the_next(tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        book.append(Note(text="one"), happened_at=0.0)
    file = tmp_path / "book.txt"
    program = (
        "import os, signal\nfrom pathlib import Path\nimport wetside.app.book as book\n"
        "os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)\n"
        f"book.export_book(Path({str(tmp_path)!r}), Path({str(file)!r}))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], check=False, capture_output=True)
    assert done.returncode == -signal.SIGKILL and len(halves(tmp_path)) == 1
    running = tmp_path / f".book.txt.{os.getpid()}.part"
    export_book(tmp_path, file)
    assert not halves(tmp_path) and file.exists()
    running.write_text("still being written")
    sweep_halves(file)
    assert running.exists()
