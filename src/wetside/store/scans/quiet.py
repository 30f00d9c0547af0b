"""Remarks that image libraries print on damaged files, kept off the user's screen: what is wrong is said once, by us."""

from __future__ import annotations

import contextlib
import logging
import os
import threading
from collections.abc import Iterator

_lock = threading.Lock()
_depth = 0
_kept = -1


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """While it lasts, nothing that C libraries write to the error stream is seen; may be entered by several threads."""
    logging.getLogger("tifffile").setLevel(logging.CRITICAL)
    _hush()
    try:
        yield
    finally:
        _speak()


def _hush() -> None:
    global _depth, _kept
    with _lock:
        _depth += 1
        if _depth == 1:
            with contextlib.suppress(OSError):
                _kept = os.dup(2)
                nowhere = os.open(os.devnull, os.O_WRONLY)
                os.dup2(nowhere, 2)
                os.close(nowhere)


def _speak() -> None:
    global _depth, _kept
    with _lock:
        _depth -= 1
        if _depth == 0 and _kept >= 0:
            os.dup2(_kept, 2)
            os.close(_kept)
            _kept = -1
