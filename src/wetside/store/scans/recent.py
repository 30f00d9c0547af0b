"""The last few files that were looked at, kept in memory as long as they do not change on disk.

A finger that moves over a frame asks for the same file many times a second; so does a page that shows its light.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from pathlib import Path
from typing import Any

import numpy as np

from wetside.figures.scan import Scan
from wetside.store.scans.arrays import read_arrays
from wetside.store.scans.load import load

#: Bytes of pixels kept at the most; one file alone may be larger and is then not kept.
ROOM = 400_000_000
#: Files of small arrays kept: the frame that is looked at and those beside it.
MOST_SMALL = 6
Key = tuple[str, int, int]
Arrays = tuple[dict[str, np.ndarray], dict[str, Any]]
_lock = threading.Lock()
_small: OrderedDict[Key, Arrays] = OrderedDict()
_kept: OrderedDict[Key, Scan] = OrderedDict()


def recent(path: Path) -> Scan:
    """A file as a scan without its hash; its pixels are shared and cannot be written to."""
    stat = path.stat()
    key = str(path), stat.st_size, stat.st_mtime_ns
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
    scan = load(path, hashed=False)
    scan.pixels.flags.writeable = False
    _keep(key, scan)
    return scan


def recent_arrays(path: Path) -> Arrays | None:
    """What `write_arrays` wrote, kept likewise; None where it is missing or damaged. The arrays cannot be written to."""
    try:
        stat = path.stat()
    except OSError:
        return None
    key = str(path), stat.st_size, stat.st_mtime_ns
    with _lock:
        if key in _small:
            _small.move_to_end(key)
            return _small[key]
    found = read_arrays(path)
    if found is not None:
        for array in found[0].values():
            array.flags.writeable = False
        with _lock:
            _small[key] = found
            while len(_small) > MOST_SMALL:
                _small.popitem(last=False)
    return found


def _keep(key: Key, scan: Scan) -> None:
    if scan.pixels.nbytes > ROOM:
        return
    with _lock:
        _kept[key] = scan
        while sum(one.pixels.nbytes for one in _kept.values()) > ROOM:
            _kept.popitem(last=False)
