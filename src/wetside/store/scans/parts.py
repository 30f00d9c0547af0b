"""Names of frames that share a file: NAME#1, NAME#2 … in the order in which they lie in it."""

from __future__ import annotations

import re
from pathlib import Path

PART = re.compile(r"(.+)#(\d{1,2})\Z")


def part_path(path: Path, number: int) -> Path:
    """The path by which a frame of a file is called."""
    return path.with_name(f"{path.name}#{number}")


def number_of(path: Path) -> int | None:
    """The frame's number in its file; None for a whole file, also one that has such a name itself."""
    found = PART.match(path.name)
    return int(found[2]) if found and not path.exists() else None


def whole(path: Path) -> Path:
    """The file on disk that holds a frame."""
    found = PART.match(path.name)
    return path.with_name(found[1]) if found and not path.exists() else path


def whole_name(name: str) -> str:
    """The name of the file that holds a frame."""
    found = PART.match(name)
    return found[1] if found else name


def stem_of(name: str) -> str:
    """What is written for a frame is called by this: its file's stem, and -2 for the second frame of a file."""
    found = PART.match(name)
    return f"{Path(found[1]).stem}-{found[2]}" if found else Path(name).stem
