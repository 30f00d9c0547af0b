"""Where frames and their holes lie along the files that hold several, in pixels of the file."""

from __future__ import annotations

from collections.abc import Sequence

from wetside.figures.place import Part, Rectangle
from wetside.figures.scan import Scan
from wetside.stages.negative.found.advance import Lying
from wetside.stages.negative.found.shown import FilmOfRoll
from wetside.stages.negative.scanner.working import Working
from wetside.store.scans.parts import whole_name


def along_file(part: Part, own: float) -> float:
    """Where a column of a part lies along the film in its file."""
    ends = [part.in_file(Rectangle(x, 0, 0, 0))[int(part.along_y)] for x in (0, 1000)]
    return ends[0] + (ends[1] - ends[0]) * own / 1000


def _strip_of(scan: Scan) -> str:
    """The strip that a frame lies on: its file, and which of those side by side in it."""
    return f"{whole_name(scan.file)}, strip {scan.part.strip}" if scan.part else scan.file


def lying(frames: Sequence[Working], scans: Sequence[Scan], film: FilmOfRoll) -> list[Lying]:
    """Where each frame lies in its file, along the film."""
    found = []
    for frame, scan, own in zip(frames, scans, film.frames):
        part, middle = scan.part, (own.edges[0] + own.edges[2]) / 2 * frame.shrink
        at = middle if part is None else along_file(part, middle)
        found.append(Lying(_strip_of(scan), at, part is not None and part.by in ("gaps", "hand gaps")))
    return found


def holes_by_file(frames: Sequence[Working], scans: Sequence[Scan], film: FilmOfRoll) -> list[list[float]]:
    """Where the frames' holes lie along each strip of several frames, in order."""
    found: dict[str, list[float]] = {}
    for frame, scan, own in zip(frames, scans, film.frames):
        if scan.part is not None and scan.part.by != "tag" and own.holes:
            row = found.setdefault(_strip_of(scan), [])
            row += [along_file(scan.part, centre * frame.shrink) for centre in own.holes.centres]
    return [sorted(row) for row in found.values()]
