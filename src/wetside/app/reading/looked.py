"""The reading behind a first look, kept in memory while its scans stay as they are.

Looking takes seconds to a minute; answering a question must not take them again.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from pathlib import Path
from threading import Lock

from wetside.app.reading.coded import all_coded, marks_under_way
from wetside.app.reading.lengths import parts_of
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import FrameReading, RollReading
from wetside.stages.causes.signs.beside_roll import with_claims
from wetside.stages.causes.signs.film import Lie, placed
from wetside.stages.causes.signs.perhaps import Searched, best_of_roll
from wetside.store.scans.folder import listing

MOST = 4
Stamp = tuple[str, tuple[tuple[str, int, int], ...]]
_kept: OrderedDict[Stamp, RollReading] = OrderedDict()
_lock = Lock()


def stamp_of(folder: Path) -> Stamp:
    """What tells that the scans of a folder are the same as before: names, sizes, times of change."""
    stats = [(path.name, path.stat()) for path in listing(folder).frames]
    return str(folder), tuple((name, one.st_size, one.st_mtime_ns) for name, one in stats)


def reading_kept(folder: Path) -> RollReading | None:
    """The reading behind a look at these scans, as long as they did not change; None where none was taken."""
    with _lock:
        return _kept.get(stamp_of(folder))


def take_look(folder: Path, progress: Progress = silent) -> RollReading:
    """Look, or give back the look that was taken."""
    stamp = stamp_of(folder)
    found = reading_kept(folder) or looked_at(folder, progress)
    with _lock:
        _kept[stamp] = found
        _kept.move_to_end(stamp)
        while len(_kept) > MOST:
            _kept.popitem(last=False)
    return found


def looked_at(folder: Path, progress: Progress = silent) -> RollReading:
    """A reading for a first look. JPEG frames hold no film in common, so their marks are found by several processes."""
    files = listing(folder).frames
    if not all_coded(files) or parts_of(files[0]):
        return read(folder, ReadOptions(), progress)
    with marks_under_way(files) as under_way:
        reading = read(folder, ReadOptions(marks=False), progress)
        seen = {}
        for number, (name, found) in enumerate(under_way, 1):
            seen[name] = found
            progress("marks", number, len(files))
    frames = [
        _with_marks(frame, number, seen.get(frame.file, Searched()))
        for number, frame in enumerate(reading.frames, 1)
    ]
    return replace(reading, frames=best_of_roll(with_claims(frames)))


def _with_marks(frame: FrameReading, number: int, seen: Searched) -> FrameReading:
    """A frame with what was found in it, without places along the film: such scans tell no scale."""
    marks, perhaps = (tuple(placed(m, frame.picture, number, Lie()) for m in found) for found in seen)
    return replace(frame, marks=marks, perhaps=perhaps)
