"""Programs that a machine may or may not have."""

from __future__ import annotations

import shutil
from pathlib import Path


def program(name: str) -> Path | None:
    """Where a program lies on the PATH; None when the machine has none."""
    found = shutil.which(name)
    return None if found is None else Path(found)
