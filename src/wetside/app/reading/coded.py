"""Marks of gamma-coded files, by as many processes as there are cores: such frames share no film, so each is looked at alone."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from pathlib import Path

from wetside.figures.finding import Unusable
from wetside.stages.causes.signs.perhaps import Searched
from wetside.store.scans.load import load

FEWEST = 6


def all_coded(files: Sequence[Path]) -> bool:
    """Whether every file is of a kind that is gamma-coded as a rule: JPEG. Anything else is read the long way."""
    return len(files) >= FEWEST and all(file.suffix.lower() in (".jpg", ".jpeg") for file in files)


@contextmanager
def marks_under_way(files: Sequence[Path]) -> Iterator[Iterator[tuple[str, Searched]]]:
    """File names with their marks, found by processes of their own while the caller does something else."""
    workers = min(os.cpu_count() or 1, len(files), 8)
    if workers < 2:
        yield map(marks_of_file, files)
        return
    with ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context("spawn")) as pool:
        running = [(file, pool.submit(marks_of_file, file)) for file in files]
        try:
            yield (_finished(file, future) for file, future in running)
        finally:
            pool.shutdown(wait=False, cancel_futures=True)


def _finished(file: Path, future: Future[tuple[str, Searched]]) -> tuple[str, Searched]:
    """A file's marks; looked at here where its process was ended from outside."""
    try:
        return future.result()
    except BrokenProcessPool:
        return marks_of_file(file)


def marks_of_file(file: Path) -> tuple[str, Searched]:
    """A file's name and its marks, the whole of it taken as picture."""
    import cv2

    from wetside.stages.causes.signs.codes import in_codes
    from wetside.stages.causes.signs.marks import searched
    from wetside.stages.negative.found.film import density_frame
    from wetside.stages.negative.found.shown import FilmOfFrame
    from wetside.stages.negative.scanner.working import light_of, working

    cv2.setNumThreads(1)
    try:
        frame = working(load(file), light_of(None, None, None))
    except Unusable:
        return file.name, Searched()
    height, width = frame.kept.shape[:2]
    film = FilmOfFrame((0.0, 0.0, float(width), float(height)), False, None, None)
    return file.name, searched(in_codes(density_frame(frame, film, None, 1, None)))
