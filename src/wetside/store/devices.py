"""Devices that were paired with the web face: hashes of their secrets, kept beside the book."""

from __future__ import annotations

import json
import os
from pathlib import Path

NAME = "devices.json"


def known_devices(home: Path) -> list[str]:
    """Hashes of the secrets of paired devices; a file that cannot be read counts as none paired."""
    try:
        entries = json.loads((home / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    return [entry for entry in entries if isinstance(entry, str)] if isinstance(entries, list) else []


def remember_device(home: Path, digest: str) -> None:
    """Add one hash; the file is written beside and renamed, readable by its owner alone."""
    home.mkdir(parents=True, exist_ok=True)
    beside = home / f"{NAME}.new"
    file = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(file, "w", encoding="utf-8") as out:
        json.dump([*known_devices(home), digest], out)
        out.flush()
        os.fsync(out.fileno())
    beside.replace(home / NAME)
