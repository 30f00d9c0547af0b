"""The hash that a scan is known by, and whether a file is still the one whose hash is known, without reading it again.

A file counts as the same while its size and its times of change stand. Its time of change of state (ctime) cannot be set by a
program that copies times along, and a file that changed in the last moments is not vouched for: a second change within one
tick of the store's clock would not show.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from wetside.store.scans.parts import number_of, whole

#: A file must have stood for so long before its stamp is trusted [ns].
SETTLED = 2_000_000_000
Stamp = tuple[int, int, int]


def sha256(path: Path) -> str:
    """SHA-256 of the file's bytes, streamed; with #2 behind it for the second frame of a file."""
    number = number_of(path)
    with whole(path).open("rb") as stream:
        found = hashlib.file_digest(stream, "sha256").hexdigest()
    return found if number is None else f"{found}#{number}"


def stamp_of(path: Path) -> Stamp | None:
    """Size and times of change of the file that holds a frame; None where it cannot be seen."""
    try:
        found = whole(path).stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns, found.st_ctime_ns


def settled_stamps(paths: Iterable[Path]) -> dict[str, Stamp]:
    """Stamps by name of those files that have not changed just now. Take them before the files are hashed."""
    newest = time.time_ns() - SETTLED
    found = ((path.name, stamp_of(path)) for path in paths)
    return {name: stamp for name, stamp in found if stamp is not None and max(stamp[1:]) < newest}


def hash_known(path: Path, known: Mapping[str, Sequence[str | int]]) -> str | None:
    """The hash of a file that stands as when it was taken; `known` holds hash and stamp by name. None: hash it again."""
    told = known.get(path.name)
    if told is None or stamp_of(path) != tuple(told[1:]):
        return None
    return str(told[0])
