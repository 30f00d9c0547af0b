"""The only wall clock."""

from __future__ import annotations

import time


def wall() -> float:
    """Seconds since 1970 UTC."""
    return time.time()
