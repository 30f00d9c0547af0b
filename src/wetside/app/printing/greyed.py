"""The fitted door with greys that were named in the print room: its transform from the small copies, in a moment."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from wetside.app.printing.corrections import ASKED
from wetside.app.printing.grey_lines import Greys, keep_greys, spots
from wetside.app.printing.print_room import Bench, bench_of, evened_small, small, upright_size
from wetside.app.printing.recipe import NONE
from wetside.app.printing.roll_transform import MOST_SAMPLED
from wetside.app.reading.lengths import part_at, roll_files
from wetside.app.viewing.glass import folder_of, frame_of
from wetside.figures.finding import CannotSay, Unusable
from wetside.figures.place import Rectangle
from wetside.stages.positive.fit import ToneFit, tone_of_greys
from wetside.stages.positive.path import Through


def bench_with(home: Path, roll: str, door: str, greys: Greys) -> Bench:
    """The roll's bench, by these greys where the door is the fitted one and they tell a slope; else as the roll was read."""
    bench = bench_of(home, roll, door)
    if door != "fitted" or not greys:
        return bench
    found = _fit(home, roll, bench, greys)
    return found[1] if isinstance(found, tuple) else bench


def words_of(home: Path, roll: str, greys: Greys) -> tuple[bool, str]:
    """Whether these greys feed the fitted door, and what is to be said of it."""
    if not greys:
        return False, ""
    found = _fit(home, roll, bench_of(home, roll, "fitted"), greys)
    if isinstance(found, tuple):
        return True, found[0].say
    return False, f"cannot say: {found.reason}; what would help: {found.would_help}"


def keep(home: Path, roll: str, greys: Greys) -> int:
    """Keep greys as a line of the book; Unusable when they tell nothing. How many lines."""
    files = {path.name for path in roll_files(folder_of(home, roll)).frames}
    if greys and {file for file, _ in greys} <= files:
        fed, say = words_of(home, roll, greys)
        if not fed:
            raise Unusable(say, "greys")
    return keep_greys(home, roll, greys, files)


@lru_cache(maxsize=8)
def _fit(home: Path, roll: str, bench: Bench, greys: Greys) -> tuple[ToneFit, Bench] | CannotSay:
    found = [_spot(home, roll, bench, file, box) for file, box in greys]
    slip = next((spot for spot in found if isinstance(spot, CannotSay)), None)
    if slip is not None:
        return slip
    files = list(bench.recipe.boxes)
    chosen = files[:: max(1, -(-len(files) // MOST_SAMPLED))]
    to = np.eye(3) if bench.recipe.matrix is None else bench.recipe.matrix
    pieces = [_inside(home, roll, bench, file) @ to.T for file in chosen]
    tone = tone_of_greys(np.array(found) @ to.T, pieces)
    if isinstance(tone, CannotSay):
        return tone
    recipe = replace(bench.recipe, table=tone.table)
    return tone, Bench(recipe, Through(recipe.group(), "u8"))


def _above(home: Path, roll: str, bench: Bench, file: str) -> np.ndarray:
    """Densities above base (h, w, 3) of a frame's small copy, free of stray light and levelled, its casts left in [D]."""
    leave = frozenset((*ASKED, *(name for own in bench.recipe.stains.values() for name in own)))
    codes = evened_small(home, roll, file, bench, NONE, leave)
    found: np.ndarray = -np.log10(np.maximum(codes, 0.5) / 65535) - np.array(bench.recipe.base)
    return found


def _spot(home: Path, roll: str, bench: Bench, file: str, box: Rectangle) -> np.ndarray | CannotSay:
    try:
        above = _above(home, roll, bench, file)
        shrink = small(home, roll, frame_of(home, roll, file)).shrink
    except Unusable as no:
        return CannotSay(f"a grey's frame is not there: {no.what}", "name another")
    part = part_at(frame_of(home, roll, file))
    x, y, w, h = (int(v / shrink) for v in (box if part is None else part.in_part(box)))
    spot = above[y : y + max(1, h), x : x + max(1, w)].reshape(-1, 3)
    if not len(spot):
        return CannotSay(f"the grey at {box.x}, {box.y} lies outside {file}", "name another")
    middle: np.ndarray = np.median(spot, axis=0)
    return middle


def _inside(home: Path, roll: str, bench: Bench, file: str) -> np.ndarray:
    """A frame's picture without its edge, thinned, as the roll's reading samples it."""
    shrink = small(home, roll, frame_of(home, roll, file)).shrink
    x, y, w, h = (int(v / shrink) for v in bench.recipe.boxes[file])
    above = _above(home, roll, bench, file)
    return above[y + h // 30 : y + h - h // 30 : 2, x + w // 30 : x + w - w // 30 : 2]


def spot_at(home: Path, roll: str, file: str, x: int, y: int) -> tuple[str, Rectangle]:
    """A grey round a place of a frame as it is shown, in pixels of its file: a square of a sixtieth of the frame's width."""
    path = frame_of(home, roll, file)
    width, height = upright_size(path)
    if not (0 <= x < width and 0 <= y < height):
        raise Unusable("the spot lies outside the frame", "greys")
    side = min(max(4, width // 60), width, height)
    left, top = (min(max(0, at - side // 2), most - side) for at, most in ((x, width), (y, height)))
    own, part = Rectangle(left, top, side, side), part_at(path)
    return file, own if part is None else part.in_file(own)


def shown(home: Path, roll: str, greys: Greys) -> list[dict[str, Any]]:
    """Greys for the page: as they are written, and where they lie in the frame as it is shown {spot, file, x, y, w, h}."""
    found = []
    for (file, box), spot in zip(greys, spots(greys)):
        try:
            part = part_at(frame_of(home, roll, file))
        except Unusable:
            part = None
        found.append({"spot": spot, "file": file, **(box if part is None else part.in_part(box)).as_json()})
    return found
