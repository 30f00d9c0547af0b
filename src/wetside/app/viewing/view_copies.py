"""Small linear copies of frames for looking at: made the first time a frame is shown, kept in the book's folder under `proxies`."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.reading.lengths import part_at, part_of_scan, stamp_of, upright_scan
from wetside.app.viewing.contact_sheet import shrunk
from wetside.figures.finding import Unusable
from wetside.figures.place import Part, Rectangle
from wetside.figures.scan import Scan
from wetside.store.scans.arrays import write_arrays
from wetside.store.scans.parts import number_of, whole
from wetside.store.scans.recent import recent, recent_arrays

#: Longer side of a copy [pixels], and how many of one roll are kept.
LONGEST, MOST_KEPT = 1600, 80


@dataclass(frozen=True)
class ViewCopy:
    """A frame's linear values at 1600 px at the most, as a scan; `shrink` pixels of the file for one of the copy."""

    scan: Scan
    shrink: float


def view_copy(home: Path, roll: str, path: Path) -> ViewCopy:
    """A frame's copy, made anew where there is none or the file has changed; Unusable where the file cannot be read."""
    stamp = list(stamp_of(path))
    place = home / "proxies" / roll / f"view {path.name}.npz"
    kept = recent_arrays(place)
    if kept is not None and kept[1].get("stamp") == stamp:
        return _told(path.name, kept[0]["pixels"], kept[1])
    made = _made(path)
    with contextlib.suppress(Unusable):  # a full or read-only disk does not keep a frame from being seen
        write_arrays(place, {"pixels": made.scan.pixels}, {"stamp": stamp, **_says(made)})
        _forget_old(place.parent)
    return made


def frame_scan(path: Path) -> Scan:
    """A frame at its full size, or the frame of a file that NAME#2 stands for, without a hash."""
    scan, number = recent(whole(path)), number_of(path)
    if number is None:
        return upright_scan(scan)
    part = part_at(path)
    return scan if part is None else part_of_scan(scan, part, number)


def _made(path: Path) -> ViewCopy:
    scan = frame_scan(path)
    shrink = max(1.0, max(scan.width, scan.height) / LONGEST)
    size = max(1, round(scan.width / shrink)), max(1, round(scan.height / shrink))
    pixels = (
        shrunk(np.ascontiguousarray(scan.pixels), *size) if shrink > 1 else np.ascontiguousarray(scan.pixels)
    )
    small = Scan(
        path.name, pixels, scan.full_scale, scan.bits, scan.coding, shrink=scan.shrink, part=scan.part
    )
    return ViewCopy(small, shrink * scan.shrink)


def _says(copy: ViewCopy) -> dict[str, Any]:
    scan = copy.scan
    part = None if scan.part is None else [*scan.part.box, *scan.part[1:]]
    return {
        "shrink": copy.shrink, "full_scale": scan.full_scale, "bits": scan.bits, "coding": scan.coding,
        "raw": scan.shrink, "part": part,
    }  # fmt: skip


def _told(name: str, pixels: np.ndarray, says: dict[str, Any]) -> ViewCopy:
    part = says["part"] and Part(Rectangle(*says["part"][:4]), *says["part"][4:])
    scan = Scan(
        name, pixels, says["full_scale"], says["bits"], says["coding"], shrink=says["raw"], part=part or None
    )
    return ViewCopy(scan, float(says["shrink"]))


def _forget_old(folder: Path) -> None:
    """Only the latest copies of a roll stay: a movie's thousands of frames would fill the disk."""
    copies = sorted(folder.glob("view *.npz"), key=_age)
    for old in copies[:-MOST_KEPT]:
        with contextlib.suppress(OSError):
            old.unlink()


def _age(copy: Path) -> float:
    """When a copy was made; one that another request has just taken away counts as the oldest."""
    try:
        return copy.stat().st_mtime
    except OSError:
        return 0.0
