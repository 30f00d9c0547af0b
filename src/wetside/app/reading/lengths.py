"""Files that hold several frames, on one strip or on several side by side: a frame of one is named NAME#2 and opened
as a part of its file, never copied to disk.

Every file of a first few of each size is looked into; when none of those holds more than one frame, the others of
that size are taken as single frames without a look.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from threading import Lock

import numpy as np

from wetside.app.reading.lie import lie_told
from wetside.app.reading.strips_shown import Boxes, parts_by_hand, strips_shown
from wetside.figures.finding import Finding, Unusable
from wetside.figures.place import Part, Rectangle
from wetside.figures.scan import Scan
from wetside.stages.negative.found.length import parts_of_length
from wetside.stages.negative.found.side_by_side import strips_side_by_side
from wetside.stages.negative.scanner.working import Light, working
from wetside.store.scans.folder import FolderListing, listing
from wetside.store.scans.header import header
from wetside.store.scans.load import load
from wetside.store.scans.parts import number_of, part_path, whole
from wetside.store.scans.recent import recent
from wetside.store.scans.tags import orientation_of

#: Longer side [px] that gaps are looked for at, and where strips seem to lie side by side but show no narrow gaps.
LONGEST, CLOSER = 1400, 3000
LOOKED_INTO = 3
#: Under this longer side [px] the gaps of a length are too narrow to tell.
SMALLEST = 400


class Sizes:
    """Which sizes of file may hold several frames, learned from the first few of each."""

    def __init__(self) -> None:
        self._seen: dict[tuple[int, int], list[bool]] = {}

    def worth_a_look(self, width: int, height: int) -> bool:
        """Whether a file of this size should be looked into."""
        seen = self._seen.get((width, height), [])
        return len(seen) < LOOKED_INTO or any(seen)

    def saw(self, width: int, height: int, several: bool) -> None:
        """One file of this size was looked into."""
        self._seen.setdefault((width, height), []).append(several)


Parted = tuple[tuple[Part, ...], tuple[Finding, ...]]
#: What was found in the last files that were looked into, by content: listing, reading and printing a roll ask alike.
_KNOWN: dict[tuple[str, str, int, int, int], Parted] = {}
_KNOWN_AT_MOST = 256
_ONE_AT_A_TIME = Lock()


def parts_and_doubt(scan: Scan, shown: Boxes | None = None) -> Parted:
    """Parts of a file in its pixels, none where it holds one frame, and what is said of strips that may lie side by side but cannot all be cut; `shown` by hand, no doubt."""
    if shown is not None:
        return parts_by_hand(scan, shown, whole_part(scan)), ()
    if not scan.sha256:
        return _looked_into(scan)
    key = scan.sha256, scan.file, scan.width, scan.height, scan.orientation
    found = _KNOWN.get(key)
    if found is None:
        found = _looked_into(scan)
        with _ONE_AT_A_TIME:
            while len(_KNOWN) >= _KNOWN_AT_MOST:
                _KNOWN.pop(next(iter(_KNOWN)))
            _KNOWN[key] = found
    return found


def _looked_into(scan: Scan) -> Parted:
    if max(scan.width, scan.height) < SMALLEST or min(scan.width, scan.height) < 64:
        return (), ()
    whole_file = whole_part(scan)
    lies = (
        scan
        if whole_file is None
        else replace(scan, pixels=np.ascontiguousarray(whole_file.upright(scan.pixels)))
    )
    small = working(lies, Light(), LONGEST)
    strips = strips_side_by_side(small.density, small.shrink)
    if strips.banded and small.shrink > lies.shrink:
        closer = working(lies, Light(), CLOSER)
        strips = strips_side_by_side(closer.density, closer.shrink)
    parts = strips.parts or parts_of_length(small.density, small.shrink)
    doubt = (_unsure(scan.file),) if strips.unsure else ()
    if whole_file is None:
        return parts, doubt
    return tuple(p._replace(box=whole_file.in_file(p.box), tag=whole_file.tag) for p in parts), doubt


def _unsure(file: str) -> Finding:
    return Finding("strips-unsure", "warning", file, "several strips seem to lie side by side, but not every one of them can be cut into frames: none was",
                   "strips whose pictures agree in size", "", "show the strips by hand on the glass, or scan each into a file of its own")  # fmt: skip


def from_head(parts: Sequence[Part | None], from_right: bool) -> list[int]:
    """The order of a file's parts from the head: strip after strip, each counted from its head's side."""
    strips = [1 if part is None else part.strip for part in parts]
    return sorted(range(len(parts)), key=lambda i: (strips[i], -i if from_right else i))


def part_of_scan(scan: Scan, part: Part, number: int | None) -> Scan:
    """A frame of a file as a view of its pixels, its film along the rows; `number` None where the file holds one frame."""
    x, y, w, h = (round(v / scan.shrink) for v in part.box)
    pixels = part.upright(scan.pixels[y : y + h, x : x + w])
    if number is None:
        return replace(scan, pixels=pixels, part=part)
    cut = (
        f"@{','.join(map(str, part.box))}" if part.by.startswith("hand") else ""
    )  # cut anew, it is another picture
    return replace(
        scan, file=f"{scan.file}#{number}", pixels=pixels, sha256=f"{scan.sha256}#{number}{cut}", part=part
    )


def whole_part(scan: Scan) -> Part | None:
    """A file of one frame that its orientation tag turns or mirrors; None for one that lies as it is stored."""
    box = Rectangle(0, 0, scan.width * scan.shrink, scan.height * scan.shrink)
    return Part(box, by="tag", tag=scan.orientation) if 2 <= scan.orientation <= 8 else None


def upright_scan(scan: Scan) -> Scan:
    """A file's frame with its orientation tag applied."""
    part = whole_part(scan)
    return scan if part is None else part_of_scan(scan, part, None)


def frames_in(scan: Scan, sizes: Sizes, shown: Boxes | None = None) -> Iterator[Scan]:
    """A file's frames in order; the file itself, turned as its tag says, where it holds one. Each has the file's findings.

    `shown`: its strips where the user showed them.
    """
    size = scan.width * scan.shrink, scan.height * scan.shrink
    look = shown is not None or sizes.worth_a_look(*size)
    parts, doubt = parts_and_doubt(scan, shown) if look else ((), ())
    if look and shown is None:
        sizes.saw(*size, len(parts) > 1)
    scan = replace(scan, findings=(*scan.findings, *doubt))
    if not parts:
        yield upright_scan(scan)
    for number, part in enumerate(parts, 1):
        yield part_of_scan(scan, part, number)


def roll_files(folder: Path) -> FolderListing:
    """A roll's files in order from the head, a file of several frames once for each of them as NAME#1, NAME#2 …

    Where the book says that the head lies right, or that the scans are mirrored, the frames of each strip count from its right.
    """
    files = listing(folder)
    sizes, frames = Sizes(), list[Path]()
    from_right = lie_told(folder).from_right
    for path in files.frames:
        parts = _parts_of_listed(path, sizes)
        frames += [part_path(path, n + 1) for n in from_head(parts, from_right)] or [path]
    return replace(files, frames=tuple(frames))


def _parts_of_listed(path: Path, sizes: Sizes) -> tuple[Part, ...]:
    try:
        found, by_hand = header(path), path.name in strips_shown(path.parent)
        if not by_hand and not sizes.worth_a_look(found.width, found.height):
            return ()
        parts = parts_of(path)
    except Unusable:
        return ()
    if not by_hand:
        sizes.saw(found.width, found.height, len(parts) > 1)
    return parts


def parts_of(path: Path) -> tuple[Part, ...]:
    """Parts of a file on disk; kept as long as the file does not change."""
    return _parts_told(path)[0]


def strips_doubt(path: Path) -> tuple[Finding, ...]:
    """What is said of a file whose strips seem to lie side by side but cannot all be cut; nothing once they were shown."""
    return _parts_told(path)[1]


def _parts_told(path: Path) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    stat = path.stat()
    return _parts(path, stat.st_size, stat.st_mtime_ns, strips_shown(path.parent).get(path.name))


@lru_cache(maxsize=4096)
def _parts(
    path: Path, size: int, stamp: int, shown: Boxes | None
) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    return parts_and_doubt(recent(path), shown)


def part_at(path: Path) -> Part | None:
    """The part that a path stands for: NAME#2 of several, or a whole file that its tag turns; None for one that lies as stored.

    Unusable where the file has no such frame.
    """
    number = number_of(path)
    if number is None:
        return _turned_file(path)
    parts = parts_of(whole(path))
    if not 1 <= number <= len(parts):
        raise Unusable(f"the file holds {len(parts) or 1} frames, not {number}", path.name)
    return parts[number - 1]


def _turned_file(path: Path) -> Part | None:
    tag = orientation_of(path)
    if tag == 1:
        return None
    found = header(path)
    return Part(Rectangle(0, 0, found.width, found.height), by="tag", tag=tag)


def stamp_of(path: Path) -> tuple[int, ...]:
    """Size and time of a frame's file, and its place in it where that was shown by hand: a copy made of another one is stale."""
    found = whole(path).stat()
    own = part_at(path) if whole(path).name in strips_shown(path.parent) else None
    return (found.st_size, found.st_mtime_ns, *(own.box if own else ()))


def opened(path: Path, *, half: bool = True, hashed: bool = True) -> Scan:
    """A file, or the frame of one that NAME#2 stands for, as a scan with its film along the rows, its tag applied."""
    number = number_of(path)
    if number is None:
        return upright_scan(load(path, half=half, hashed=hashed))
    part = part_at(path)
    assert part is not None
    return part_of_scan(load(whole(path), half=half, hashed=hashed), part, number)


def size_of_frame(path: Path) -> Rectangle:
    """Where a frame lies in its file: all of it, or its part; a damaged file counts as 3 × 2."""
    try:
        part = part_at(path)
        if part is not None:
            return part.box
        found = header(path)
    except Unusable:
        return Rectangle(0, 0, 3, 2)
    return Rectangle(0, 0, found.width, found.height)
