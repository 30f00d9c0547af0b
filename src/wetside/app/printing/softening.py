"""Which marks of a roll are stains that can be taken off, and why the others are left alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.reading.lengths import opened, roll_files
from wetside.app.viewing.verdicts import verdicts_for
from wetside.figures.channels import rgb
from wetside.figures.finding import CannotSay, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.reading import FrameReading, RollReading
from wetside.figures.stain import Stain
from wetside.stages.causes.signs.stain import stain_at
from wetside.stages.causes.signs.verdicts import box_of, with_verdicts
from wetside.stages.negative.scanner.veil_off import unveiled
from wetside.stages.negative.scanner.working import Light, working
from wetside.store.scans.folder import FolderListing

Boxes = Mapping[str, Sequence[Rectangle]]
#: A mark is measured on as many pixels as this along its longer side, where the scan has them; and a frame on so many.
ACROSS, LONGEST = 300, 2400
#: Share of the smaller of two that both cover from which they are one stain.
SHARED = 0.3
#: A mark so near to a picture, as a part of its longer side, may go on in it.
RIM = 64


def marks_of(home: Path | None, folder: Path, reading: RollReading) -> dict[str, list[Rectangle]]:
    """Boxes of a roll's marks by file [px of the file], as the reading found them and the book's words left them.

    Those that lie on unexposed film alone, away from the picture, are in no print.
    """
    left = with_verdicts(reading.as_json(), verdicts_for(home, folder) if home else [])
    boxes = {
        str(f["file"]): [box_of(m) for m in f["marks"] if _meets(box_of(m), box_of(f["picture"]))]
        for f in left["frames"]
    }
    return {file: own for file, own in boxes.items() if own}


def _meets(mark: Rectangle, picture: Rectangle) -> bool:
    """Whether a mark lies in a picture or at its rim, as well as a rim is known."""
    slack = max(picture.w, picture.h) // RIM
    w = min(mark.x + mark.w, picture.x + picture.w) - max(mark.x, picture.x)
    h = min(mark.y + mark.h, picture.y + picture.h) - max(mark.y, picture.y)
    return min(w, h) > -slack


def stains_of(
    files: FolderListing, reading: RollReading, light: Light, boxes: Boxes
) -> tuple[dict[str, dict[str, Stain]], list[dict[str, Any]]]:
    """Stains by file and name ("stain-1" and on, in the roll's order), and marks that stay: {file, box, say, would_help}."""
    places = {path.name: path for path in roll_files(files.folder).frames} | {p.name: p for p in files.frames}
    found, stay, number = dict[str, dict[str, Stain]](), list[dict[str, Any]](), 0
    for frame in reading.frames:
        for box in boxes.get(frame.file, ()):
            answer = _stain(places[frame.file], frame, reading, light, box)
            if isinstance(answer, Stain):
                if any(_same(answer, other) for other in found.get(frame.file, {}).values()):
                    continue
                number += 1
                found.setdefault(frame.file, {})[f"stain-{number}"] = replace(answer, mark=box)
            else:
                said = {"say": answer.reason, "would_help": answer.would_help}
                stay.append({"file": frame.file, "box": box.as_json(), **said})
    return found, stay


def _same(one: Stain, other: Stain) -> bool:
    """Whether two marks are parts of one stain: it must not be taken off twice."""
    a, b = _core(one), _core(other)
    w = min(a.x + a.w, b.x + b.w) - max(a.x, b.x)
    h = min(a.y + a.h, b.y + b.h) - max(a.y, b.y)
    return max(0, w) * max(0, h) > SHARED * min(a.w * a.h, b.w * b.h)


def _core(stain: Stain) -> Rectangle:
    """The rectangle in which more than half of a stain's density lies."""
    rows, columns = np.nonzero(stain.weight > 127)
    fine = stain.box.h / stain.weight.shape[0]
    left, top, right, bottom = (
        int(v * fine) for v in (columns.min(), rows.min(), columns.max() + 1, rows.max() + 1)
    )
    return Rectangle(stain.box.x + left, stain.box.y + top, max(1, right - left), max(1, bottom - top))


def refuse_unknown(boxes: Boxes, files: FolderListing) -> None:
    """Unusable when a mark is named on a frame that is not of the roll."""
    known = {path.name for path in roll_files(files.folder).frames} | {path.name for path in files.frames}
    for file in boxes:
        if file not in known:
            raise Unusable(
                f"{file[:60]!r} is not a frame here; frames: {', '.join(sorted(known)[:4])} …", "--soften"
            )


def _stain(
    path: Path, frame: FrameReading, reading: RollReading, light: Light, box: Rectangle
) -> Stain | CannotSay:
    if reading.base is None:
        return CannotSay("the roll shows no unexposed film to compare with", "a scan with the rebate in view")
    scan = opened(path, half=False)
    own = box if frame.part is None else frame.part.in_part(box)
    longest = max(scan.width, scan.height)
    fine = min(longest, LONGEST, max(1000, round(ACROSS * longest / max(own.w, own.h, 1))))
    small = unveiled(working(scan, light, fine), frame.flare)
    base = rgb(np.array(reading.base.density) + frame.shift)
    return stain_at(small.density, small.shrink, frame.picture, base, _in_picture(own, frame.picture))


def _in_picture(mark: Rectangle, picture: Rectangle) -> Rectangle:
    """What of a mark lies in the picture, whose outline there is looked for; all of it where it ends at the rim."""
    left, top = max(mark.x, picture.x), max(mark.y, picture.y)
    right, bottom = min(mark.x + mark.w, picture.x + picture.w), min(mark.y + mark.h, picture.y + picture.h)
    inside = Rectangle(left, top, right - left, bottom - top)
    return inside if min(inside.w, inside.h) * RIM > max(picture.w, picture.h) else mark
