"""Who prints the frames of a roll: this process, several on this machine, or a cluster. The pictures are the same."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections.abc import Generator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import connection
from pathlib import Path
from typing import Any

from wetside.app.frames import print_batch, printer_at
from wetside.store.scans.parts import whole

#: Below this many bytes of scans, starting processes costs more than it saves (about a second a process).
WORTH = 150_000_000
KILLED = "its process was ended from outside, most likely for want of memory"


def alone(place: Path, key: str, files: Sequence[Path]) -> Generator[dict[str, Any]]:
    """Frames one after another in this process."""
    printer = printer_at(str(place), key)
    for file in files:
        yield printer.frame(file)


def several(place: Path, key: str, files: Sequence[Path], workers: int) -> Generator[dict[str, Any]]:
    """Frames by processes of their own, as they are finished. A frame whose process dies is tried once more, alone."""
    waiting, again = list(reversed(files)), list[Path]()
    while waiting:
        with _pool(workers) as pool:
            running: dict[Future[list[dict[str, Any]]], Path] = {}
            try:
                while waiting or running:
                    while waiting and len(running) < 2 * workers:
                        file = waiting[-1]
                        running[pool.submit(print_batch, str(place), key, [str(file)])] = file
                        waiting.pop()
                    done, _ = wait(running, return_when=FIRST_COMPLETED)
                    for future in done:
                        found = future.result()
                        del running[future]
                        yield found[0]
            except BrokenProcessPool:
                finished = [f for f in running if f.done() and f.exception() is None]
                yield from (f.result()[0] for f in finished)
                again += [file for future, file in running.items() if future not in finished]
    for file in again:
        yield _once(place, key, file)


def _once(place: Path, key: str, file: Path) -> dict[str, Any]:
    with _pool(1) as pool:
        try:
            return pool.submit(print_batch, str(place), key, [str(file)]).result()[0]
        except BrokenProcessPool:
            return {"file": file.name, "slip": KILLED, "store": False}


def _pool(workers: int) -> ProcessPoolExecutor:
    """Processes started fresh: none inherits threads or locks of this one."""
    return ProcessPoolExecutor(
        workers, mp_context=multiprocessing.get_context("spawn"), initializer=_ends_with_its_parent
    )


def _ends_with_its_parent() -> None:
    """A printing that is killed takes its processes along: else they would wait for frames for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(
            target=lambda: (connection.wait([parent.sentinel]), os._exit(1)), daemon=True
        ).start()


def crew(place: Path, key: str, files: Sequence[Path], workers: int) -> Generator[dict[str, Any]]:
    """The frames, by as many processes as are worth their start."""
    held = [whole(file) for file in files]
    size = sum(file.stat().st_size for file in held if file.is_file())
    if workers < 2 or len(files) < 2 or size < WORTH:
        return alone(place, key, files)
    return several(place, key, files, min(workers, len(files)))
