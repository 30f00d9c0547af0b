"""Strips of film in one file that the user showed by hand, as lines of the book, and how such a file is cut."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

import numpy as np

from wetside.app.reading.lie import book_beside
from wetside.book.kinds import Measured
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.figures.place import Part, Rectangle
from wetside.figures.scan import Scan
from wetside.stages.negative.found.length import parts_of_length
from wetside.stages.negative.scanner.working import Light, working
from wetside.store import clock
from wetside.store.ledger import Ledger

WHAT = "strips shown"
Boxes = tuple[Rectangle, ...]
MOST, LEAST = 40, 32
#: Longer side [px] that the gaps of one strip are looked for at.
LONGEST = 1400


def strips_shown(folder: Path) -> Mapping[str, Boxes]:
    """For each file that was cut by hand its strips, in pixels of the file; no strip: it is one frame."""
    beside = book_beside(folder)
    return _shown(folder.parent.parent, folder.name, beside) if beside else MappingProxyType({})


@lru_cache(maxsize=64)
def _shown(home: Path, roll: str, _stamps: tuple[tuple[int, int], ...]) -> Mapping[str, Boxes]:
    found: dict[str, Boxes] = {}
    with Ledger.open(home) as book:
        for one in book.lines(thing=Thing("roll", roll), kind="measured"):
            told = one.body.get("result")
            if one.body.get("what") != WHAT or not isinstance(told, dict):
                continue
            found.pop(str(told["file"]), None)
            if told.get("boxes") is not None:
                found[str(told["file"])] = tuple(
                    Rectangle(*(int(box[k]) for k in "xywh")) for box in told["boxes"]
                )
    return MappingProxyType(found)


def boxes_typed(text: str) -> Boxes:
    """One rectangle a line as x, y, w, h; Unusable where a line is none."""
    lines = [line for line in text.splitlines() if line.strip()]
    found = [tuple(int(n) for n in re.findall(r"[0-9]{1,6}", line)) for line in lines]
    for line, one in zip(lines, found):
        if len(one) != 4 or min(one[2:]) < LEAST:
            raise Unusable(
                f"a strip is four whole numbers x, y, w, h, at least {LEAST} pixels wide and high; found {line[:40]!r}", "strips"
            )  # fmt: skip
    if len(found) > MOST:
        raise Unusable(f"at most {MOST} strips lie in one file; found {len(found)}", "strips")
    return tuple(Rectangle(*one) for one in found)


def show_strips(home: Path, roll: str, file: str, boxes: Boxes | None) -> None:
    """Keep the strips of a file as a line; none: it is one frame; None: as the program finds them."""
    told = None if boxes is None else [box.as_json() for box in boxes]
    with Ledger.open(home) as book:
        body = Measured(roll=roll, what=WHAT, result={"file": file, "boxes": told})
        book.append(body, happened_at=clock.wall())


def parts_by_hand(scan: Scan, boxes: Sequence[Rectangle], turned: Part | None) -> tuple[Part, ...]:
    """Parts of a file from its strips, each cut at its gaps or taken whole; in rows from the top, or in columns from the left.

    `turned`: the file's own turn by its tag, None where it lies as stored.
    """
    upright = [box if turned is None else turned.in_part(box) for box in boxes]
    pixels = scan.pixels if turned is None else turned.upright(scan.pixels)
    size = Rectangle(0, 0, pixels.shape[1] * scan.shrink, pixels.shape[0] * scan.shrink)
    inside = [box.clipped_to(size.w, size.h) for box in upright]
    cut = [(box, _cut(scan, pixels, box)) for box in inside if min(box.w, box.h) >= LEAST]
    down = sum(part.down for _, parts in cut for part in parts) * 2 > sum(len(parts) for _, parts in cut)
    found = []
    for number, row in enumerate(_rows([box for box, _ in cut], down), 1):
        for i in row:
            box, parts = cut[i]
            found += [part._replace(strip=number, by=f"hand {part.by}") for part in parts] or [
                Part(box, down, "hand", strip=number)
            ]
    if turned is None:
        return tuple(found)
    return tuple(part._replace(box=turned.in_file(part.box), tag=turned.tag) for part in found)


def _cut(scan: Scan, pixels: np.ndarray, box: Rectangle) -> tuple[Part, ...]:
    x, y, w, h = (round(v / scan.shrink) for v in box)
    crop = replace(scan, pixels=np.ascontiguousarray(pixels[y : y + h, x : x + w]))
    small = working(crop, Light(), LONGEST)
    parts = parts_of_length(small.density, small.shrink)
    return tuple(
        part._replace(box=part.box._replace(x=part.box.x + box.x, y=part.box.y + box.y)) for part in parts
    )


def _rows(boxes: Sequence[Rectangle], down: bool) -> list[list[int]]:
    """Numbers of the boxes, those that lie in one row (`down`: one column) together, in order."""
    rows: list[list[int]] = []
    for i in sorted(range(len(boxes)), key=lambda i: boxes[i].centre[0 if down else 1]):
        across, along = (boxes[i].w, 0) if down else (boxes[i].h, 1)
        beside = rows and abs(boxes[rows[-1][0]].centre[along] - boxes[i].centre[along]) < across / 2
        if beside:
            rows[-1].append(i)
        else:
            rows.append([i])
    return [sorted(row, key=lambda i: boxes[i].centre[1 if down else 0]) for row in rows]
