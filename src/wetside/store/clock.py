"""The only clock: wall time, monotonic time and the boot's id, so that a jump of the wall clock can be seen."""

from __future__ import annotations

import time
from pathlib import Path


def wall() -> float:
    """Seconds since 1970 UTC."""
    return time.time()


def monotonic() -> float:
    """Seconds of a clock that never steps back while the machine is up."""
    return time.monotonic()


def boot_id() -> str:
    """An id that changes when the machine restarts; empty where the system gives none."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    except OSError:
        return ""
