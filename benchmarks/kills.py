"""Kills (−9) at random instants during runs, imports and exports: `python -m benchmarks.kills [RUNS] [IMPORTS] [EXPORTS] [SEED]`.

Runs: a server on a real book takes taps as fast as they are acknowledged, is killed, started again, and must still hold
every tap that it acknowledged. Imports: a text of 4,000 lines is taken in or not, never in part, and nothing of what was
there is lost. Exports: the text file is the old one or the new one, whole. The book is checked after every kill.
"""

from __future__ import annotations

import http.client
import random
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks.bad_link import Server
from wetside.app.book import check_book, export_book
from wetside.book.kinds import Note
from wetside.book.text import HEADER, line_of, written
from wetside.store.ledger import Ledger

COMMAND = [sys.executable, "-m", "wetside.cli.main", "book"]
LINES = 4_000


class Taps:
    """A phone that taps without pause; which taps were acknowledged."""

    def __init__(self, server: Server, run: str) -> None:
        self.server, self.run, self.acknowledged, self.sent = server, run, list[str](), 0

    def until(self, stop: threading.Event) -> None:
        while not stop.is_set():
            name = f"{self.run}-{self.sent}"
            self.sent += 1
            body = {"id": name, "kind": "temperature", "happened_at": time.time(), "celsius": 41.0}
            try:
                self.server.asked(f"/api/runs/{self.run}/events", body)
            except (OSError, http.client.HTTPException, ValueError):
                return
            self.acknowledged.append(name)


def during_runs(home: Path, kills: int, chance: random.Random) -> tuple[int, int]:
    """(taps acknowledged, of them lost) over so many kills of the server; many short runs, as at a sink."""
    server, made, lost = Server(home), 0, 0
    for number in range(kills):
        run = str(server.asked("/api/runs", {"process": "ecn-2", "id": f"killed-{number}"})["id"])
        taps, stop = Taps(server, run), threading.Event()
        tapping = threading.Thread(target=taps.until, args=(stop,), daemon=True)
        tapping.start()
        waited = time.time() + 20
        while not taps.acknowledged and time.time() < waited:
            time.sleep(0.01)
        time.sleep(chance.uniform(0.0, 1.0))
        server.kill()
        stop.set()
        tapping.join(10)
        server.start()
        held = {event["id"] for event in server.asked(f"/api/runs/{run}")["events"]}
        made += len(taps.acknowledged)
        lost += len(set(taps.acknowledged) - held)
        sound(home)
    server.kill()
    return made, lost


def killed(command: list[str], home: Path, after: float) -> bool:
    """Start a command and kill it; whether it had ended by itself."""
    process = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment(home)
    )
    try:
        process.wait(after)
        return True
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return False


def environment(home: Path) -> dict[str, str]:
    import os

    return {**os.environ, "WETSIDE_HOME": str(home)}


def timed(command: list[str], home: Path) -> float:
    began = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment(home))
    return time.perf_counter() - began


def sound(home: Path) -> None:
    faults = check_book(home)["faults"]
    assert not faults, faults


def text_of(prefix: str, file: Path) -> None:
    lines = [
        line_of(Note(text=f"{prefix} {n}"), name=f"{prefix}-{n}", happened_at=n, noted_at=n)
        for n in range(LINES)
    ]
    file.write_text("\n".join([HEADER, *(written(line) for line in lines), ""]), encoding="utf-8")


def during_imports(home: Path, kills: int, chance: random.Random) -> tuple[int, int]:
    """(imports that were killed on the way, books left with a part of a text or without what was there)."""
    file, wrong, on_the_way = home / "in.txt", 0, 0
    text_of("first", file)
    usual = timed([*COMMAND, "import", str(file)], home)
    for number in range(kills):
        text_of(f"import-{number}", file)
        with Ledger.open(home) as book:
            before = book.count()
        on_the_way += not killed([*COMMAND, "import", str(file)], home, chance.uniform(0.2, 1.0) * usual)
        with Ledger.open(home) as book:
            wrong += book.count() not in (before, before + LINES)
        sound(home)
    return on_the_way, wrong


def during_exports(home: Path, kills: int, chance: random.Random) -> tuple[int, int]:
    """(exports that were killed on the way, text files that are neither the old nor the new one whole)."""
    file, right, wrong, on_the_way = home / "out.txt", home / "right.txt", 0, 0
    usual = timed([*COMMAND, "export", str(file), "--overwrite"], home)
    for number in range(kills):
        old = file.read_bytes()
        with Ledger.open(home) as book:
            book.append(Note(text=f"before export {number}"), happened_at=float(number))
        export_book(home, right, overwrite=True)
        on_the_way += not killed(
            [*COMMAND, "export", str(file), "--overwrite"], home, chance.uniform(0.2, 1.0) * usual
        )
        wrong += file.read_bytes() not in (old, right.read_bytes())
    sound(home)
    return on_the_way, wrong


def main(runs: int = 80, imports: int = 60, exports: int = 60, seed: int = 1) -> None:
    """All three, a line each."""
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as place:
        told(
            "runs",
            runs,
            Path(place) / "runs",
            lambda home: during_runs(home, runs, chance),
            "{} taps acknowledged, {} lost",
        )
        told(
            "imports",
            imports,
            Path(place) / "texts",
            lambda home: during_imports(home, imports, chance),
            "{} killed on the way, {} left in part",
        )
        told(
            "exports",
            exports,
            Path(place) / "texts",
            lambda home: during_exports(home, exports, chance),
            "{} killed on the way, {} broken files",
        )


def told(what: str, kills: int, home: Path, act: Callable[[Path], tuple[int, int]], words: str) -> None:
    home.mkdir(parents=True, exist_ok=True)
    print(f"{kills} kills during {what}: {words.format(*act(home))}", flush=True)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
