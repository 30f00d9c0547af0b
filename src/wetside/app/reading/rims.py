"""Whether a roll's scans were sharpened: by their noise, which is looked at as each file is read, and by their pictures' rims."""

from __future__ import annotations

from pathlib import Path

from wetside.app.reading.lengths import opened
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading
from wetside.stages.negative.scanner.halos import lifted_rim
from wetside.store.scans.kinds import kind_of
from wetside.store.scans.parts import whole

#: So many files of a roll are opened again for their rims; a roll is scanned in one way.
MOST = 3


def rims(folder: Path, frames: tuple[FrameReading, ...]) -> list[float]:
    """What the pictures' edges lift their rebate by, as shares of the step, of a few files; none for raw files, never sharpened."""
    found, asked = [], set[Path]()
    for frame in frames[:: max(1, len(frames) // MOST)]:
        path = folder / frame.file
        if frame.base is None or whole(path) in asked or len(asked) == MOST:
            continue
        asked.add(whole(path))
        lift = _lift(path, frame.picture)
        if lift is not None:
            found.append(lift)
    return found


def _lift(path: Path, picture: Rectangle) -> float | None:
    try:
        if kind_of(whole(path)) == "raw":
            return None
        scan = opened(path)
    except Unusable:
        return None
    return None if scan.coding == "gamma" else lifted_rim(scan.pixels, picture)
