"""Who prints the frames of a roll: this process, one or several frames at a time, or a cluster. The pictures are the same."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from pathlib import Path
from typing import Any

from wetside.app.printing.frames import printer_at
from wetside.figures.abreast import abreast


def alone(place: Path, key: str, files: Sequence[Path]) -> Generator[dict[str, Any]]:
    """Frames one after another."""
    yield from crew(place, key, files, 1)


def crew(place: Path, key: str, files: Sequence[Path], workers: int) -> Generator[dict[str, Any]]:
    """The frames in order, so many at a time, each by a thread of its own, no more of them than there are cores.

    Reading, evening, the colour library and writing let go of the interpreter; a process for each would cost a second to start.
    """
    printer = printer_at(str(place), key)
    yield from abreast(printer.frame, files, workers)
