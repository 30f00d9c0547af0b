"""A folder of scans becomes a roll's own in the book: copied or moved whole, under its final name only when it is complete."""

from __future__ import annotations

import shutil
from pathlib import Path

from wetside.figures.finding import Unusable
from wetside.store.scans.folder import listing


def adopt(folder: Path, place: Path, *, move: bool = False) -> None:
    """Put the images of `folder` at `place`; Unusable where something lies there already or the disk refuses.

    With `move` the folder itself is renamed, so nothing is copied; otherwise the originals stay as they are.
    """
    if place.exists():
        raise Unusable("scans of that name lie in the book already", place.name)
    beside = place.with_name(f".{place.name}.part")
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        if move:
            folder.rename(place)
            return
        shutil.rmtree(beside, ignore_errors=True)
        beside.mkdir()
        for file in images_of(folder):
            shutil.copy2(file, beside / file.name)
        beside.rename(place)
    except OSError as slip:
        shutil.rmtree(beside, ignore_errors=True)
        raise Unusable(f"the scans could not be laid beside the book: {slip.strerror}", place.name) from None


def images_of(folder: Path) -> list[Path]:
    """Frames, lights and flats of a folder."""
    found = listing(folder)
    return [*found.frames, *(one for one in (found.open_gate, found.dark, *found.flats) if one is not None)]
