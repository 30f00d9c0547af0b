"""Where things lie on this machine: `WETSIDE_HOME`, or the platform's folder for user data."""

from __future__ import annotations

import os
from pathlib import Path


def home() -> Path:
    """The folder of the book."""
    named = os.environ.get("WETSIDE_HOME")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("wetside")
