"""A server over a small book in a process of its own, and one Chromium for all browser tests."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wetside.app.demo import build_roll
from wetside.app.printing import print_room
from wetside.book.text import line_of
from wetside.demo.story import rolls, told
from wetside.store.ledger import Ledger

ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


@pytest.fixture(scope="session")
def book_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("book")
    with Ledger.open(home) as book:
        book.append_lines([line_of(t.body, name=t.id, happened_at=t.at, noted_at=t.at) for t in told()])
    for roll in rolls():
        if roll.name in ("R02", "R07", "R08"):
            build_roll(roll, home / "scans" / roll.name, 3, 0.6)
    return home


@pytest.fixture(scope="session")
def lay_room(tmp_path_factory: pytest.TempPathFactory, book_home: Path) -> Callable[[Path, str], None]:
    """Lays six frames of R02, read for printing once, into a book under any name: their scans and what was read of them."""
    whole = tmp_path_factory.mktemp("room")
    (whole / "scans" / "R02").mkdir(parents=True)
    for file in (*(f"R02_{n:02d}.tif" for n in range(1, 7)), "open_gate.tif"):
        shutil.copy(book_home / "scans" / "R02" / file, whole / "scans" / "R02" / file)
    print_room.prepare(whole, "R02")

    def lay(home: Path, roll: str) -> None:
        for kind in ("scans", "proxies"):
            shutil.copytree(whole / kind / "R02", home / kind / roll, dirs_exist_ok=True)

    return lay


@pytest.fixture(scope="session")
def site(book_home: Path) -> Iterator[str]:
    port = free_port()
    server = subprocess.Popen(
        [sys.executable, "-m", "wetside.cli.main", "serve", "--port", str(port)],
        env={**os.environ, "WETSIDE_HOME": str(book_home)}, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    address = f"http://127.0.0.1:{port}"
    for _ in range(200):
        try:
            urllib.request.urlopen(address + "/api/health", timeout=2).close()
            break
        except OSError:
            time.sleep(0.1)
    yield address
    server.terminate()
    server.wait(10)


@pytest.fixture(scope="session")
def chromium():
    from playwright.sync_api import sync_playwright

    path = os.environ.get("WETSIDE_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    assert path, "no Chromium: run scripts/find_chromium.py"
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=path, args=ARGS)
        yield browser
        browser.close()
