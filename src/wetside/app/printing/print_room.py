"""The print room: a roll's positives from small linear copies, with its trims.

A small copy (800 px) of each frame's linear values lies in the book's folder under `proxies`; with the roll's transform
beside it a picture is made anew in some milliseconds for every change of a light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from wetside.app.printing.corrections import stays_out
from wetside.app.printing.frames import veil_of
from wetside.app.printing.recipe import NONE, Recipe, Rows, law_versions, read_recipe, write_recipe
from wetside.app.printing.roll_transform import Wanted, roll_transform
from wetside.app.printing.softening import marks_of
from wetside.app.printing.trims import keep_trims, trims_of
from wetside.app.reading.lengths import opened, part_at, roll_files, size_of_frame, stamp_of
from wetside.app.reading.read import ReadOptions, read
from wetside.app.sensitometry.calibrate import AIMS, profile, profiles
from wetside.app.sensitometry.crosstalk import calibration_say, fits
from wetside.app.sensitometry.stock import curves_of_folder
from wetside.app.viewing.glass import folder_of, frame_of, stretch_around
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.figures.place import Part
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import RollReading
from wetside.stages.negative.scanner.working import field_within, reduced
from wetside.stages.positive.cut import cuts_of, window, within
from wetside.stages.positive.evening import EvenMap, VeilOver, across_rows
from wetside.stages.positive.fit import neutral_trim
from wetside.stages.positive.path import Through
from wetside.stages.positive.softening import lift_strip, lifted
from wetside.stages.positive.transform import slope_of
from wetside.stages.positive.turn import set_straight
from wetside.store.ledger import FILE, Ledger
from wetside.store.scans.arrays import read_arrays, write_arrays
from wetside.store.scans.folder import FolderListing

LONGEST = 800
DOORS = ("own", "fitted", "exchange")
#: What stays in until it is asked for.
LEFT = ("mid-tones",)
Leave = frozenset[str]
#: Rolls as they were read last, by folder, with their files' stamps: printing one need not read it again.
_READ: dict[Path, tuple[dict[str, list[int]], RollReading]] = {}
MOST_READ = 4


@dataclass(frozen=True)
class Small:
    """A frame's linear values at 800 px as 16-bit codes, and what the map needs to know of the file."""

    values: np.ndarray
    shrink: float
    exposure_s: float | None
    full_scale: float = 65535.0


def room(home: Path, roll: str, near: int | None = None) -> dict[str, Any]:
    """What the page shows: frames with their trims, the balance, the doors that are open; `ready` when it can print.

    near  the frame round which a long roll is shown; None for every frame. `count` is how many there are
    """
    files = roll_files(folder_of(home, roll))
    trims, balance = trims_of(home, roll)
    found = recipes(home, roll, files)
    recipe = next(iter(found.values()))[0] if found else None
    about = next(iter(found.values()))[1] if found else {}
    cuts, lost = cuts_of(recipe.boxes) if recipe else {}, lost_frames(recipe, about)
    frames = []
    for number, path in enumerate(files.frames, 1) if near is None else stretch_around(files.frames, near):
        width, height = upright_size(path)
        trim = trims.get(path.name, NONE)
        cut = cuts.get(path.name)
        frames.append(
            {
                "number": number,
                "file": path.name,
                "width": width,
                "height": height,
                "trim": trim,
                "cut": within(cut, height, width) if cut else (0, 0, width, height),
                "turn": recipe.skews.get(path.name, 0.0) if recipe and cut else 0.0,
                "lost": lost.get(path.name, ""),
            }
        )
    return {
        "roll": roll, "frames": frames, "count": len(files.frames), "balance": balance, "ready": bool(found), "doors": list(found),
        "evenness": about.get("evenness"), "corrections": about.get("corrections", []), "before": about.get("before"), "marks_left": about.get("marks_left", []),
        "exposure": about.get("exposure", []),
        "say": {door: about["say"] for door, (_, about) in found.items()},
        "light": files.open_gate is not None, "calibrations": [str(one["calibration"]) for one in profiles(home)],
        "calibration": next((told["name"] for _, about in found.values() if (told := about["calibration"]) is not None), ""),
        "calibrated": {door: calibration_say(told) for door, (_, about) in found.items() if (told := about["calibration"]) is not None},
    }  # fmt: skip


def lost_frames(recipe: Recipe | None, about: dict[str, Any]) -> dict[str, str]:
    """Why frames that could not be read could not, by file."""
    read_well = recipe.boxes if recipe else {}
    told = [f for f in about.get("findings", []) if f["severity"] == "error" and f["where"] not in read_well]
    return {f["where"]: f["say"] for f in reversed(told)}


def upright_size(path: Path) -> tuple[int, int]:
    """Width and height of a frame with its film along the rows."""
    part, place = part_at(path), size_of_frame(path)
    return (place.h, place.w) if part is not None and part.along_y else (place.w, place.h)


def prepare(home: Path, roll: str, progress: Progress = silent, calibration: str = "") -> None:
    """Read the roll once and keep its transforms by every door that is open, and the small copies of its frames.

    calibration  the name of one of the book's, whose matrix comes before the layers' curves, or ""
    """
    folder = folder_of(home, roll)
    files = roll_files(folder)
    stamps = _stamps(files)
    reading = read(folder, ReadOptions(), progress)
    _READ[folder.resolve()] = (stamps, reading)
    while len(_READ) > MOST_READ:
        del _READ[next(iter(_READ))]
    boxes = marks_of(home, folder, reading)
    by = profile(home, calibration, AIMS) if calibration else None
    curves = None
    if (folder / "stock.json").is_file():
        try:
            curves = curves_of_folder(folder, None if by is None else by.fit.matrix)
        except Unusable:
            curves = None
    for door in DOORS:
        if door == "own" and curves is None:
            continue
        serves = by if by is not None and fits(by, door) else None
        wanted = Wanted(door, kind="jpeg", leave=LEFT, curves=curves, boxes=boxes, by=serves)
        recipe, about = roll_transform(files, reading, wanted)
        stains = tuple(name for own in recipe.stains.values() for name in own)
        recipe = replace(recipe, leave=(*LEFT, *stains))
        asked = {*LEFT, *stains}
        about["corrections"] = [{**one, "made": one["id"] not in asked} for one in about["corrections"]]
        write_recipe(_place(home, roll) / f"{door}.npz", recipe, about | {"scans": stamps})
    for i, path in enumerate(files.frames, 1):
        try:
            small(home, roll, path)
        except Unusable:
            continue
        finally:
            progress("small copies", i, len(files.frames))


def last_reading(home: Path, roll: str) -> RollReading | None:
    """What this process read of a roll for its room, while none of its files changed."""
    folder = folder_of(home, roll)
    stamps, reading = _READ.get(folder.resolve(), (None, None))
    return reading if stamps == _stamps(roll_files(folder)) else None


def _place(home: Path, roll: str) -> Path:
    return home / "proxies" / roll


def _stamps(files: FolderListing) -> dict[str, list[int]]:
    paths = [*files.frames, *(p for p in (files.open_gate, files.dark) if p is not None)]
    return {path.name: list(stamp_of(path)) for path in paths}


def recipes(
    home: Path, roll: str, files: FolderListing | None = None
) -> dict[str, tuple[Recipe, dict[str, Any]]]:
    """The roll's transforms by door, as long as its scans and the laws are those they were made from."""
    now = _stamps(files or roll_files(folder_of(home, roll)))
    found = {}
    for door in DOORS:
        place = _place(home, roll) / f"{door}.npz"
        kept = _recipe(place, place.stat().st_mtime_ns) if place.is_file() else None
        if kept is not None and kept[1].get("scans") == now and kept[0].laws == law_versions():
            found[door] = kept
    return found


@lru_cache(maxsize=12)
def _recipe(place: Path, stamp: int) -> tuple[Recipe, dict[str, Any]] | None:
    return read_recipe(place)


def small(home: Path, roll: str, path: Path) -> Small:
    """The small copy of a frame, made when there is none or the scan changed."""
    return _small(_place(home, roll) / f"{path.name}.npz", path, stamp_of(path))


@lru_cache(maxsize=64)
def _small(place: Path, path: Path, stamp: tuple[int, ...]) -> Small:
    kept = read_arrays(place)
    if kept is not None and kept[1].get("scan") == list(stamp):
        return Small(
            kept[0]["values"], float(kept[1]["shrink"]), kept[1]["exposure_s"], kept[1]["full_scale"]
        )
    scan = opened(path)
    pixels, shrink = reduced(scan.pixels, LONGEST)
    values = np.round(np.clip(np.nan_to_num(pixels) * (65535 / scan.full_scale), 0, 65535)).astype(np.uint16)
    about = {
        "scan": list(stamp), "shrink": shrink * scan.shrink, "exposure_s": scan.exposure_s, "full_scale": scan.full_scale,
    }  # fmt: skip
    write_arrays(place, {"values": values}, about)
    return Small(values, shrink * scan.shrink, scan.exposure_s, scan.full_scale)


@dataclass(frozen=True, eq=False)
class Bench:
    """A roll's transform by one door, ready for small copies."""

    recipe: Recipe
    through: Through


@lru_cache(maxsize=6)
def _bench(place: Path, stamp: int) -> Bench:
    found = _recipe(place, stamp)
    if found is None:
        raise Unusable("the roll was not read yet", "print")
    return Bench(found[0], Through(found[0].group(), "u8"))


def bench_of(home: Path, roll: str, door: str) -> Bench:
    """The roll's bench; Unusable when the door is not open or the roll was not read."""
    folder_of(home, roll)
    place = _place(home, roll) / f"{door}.npz"
    if door not in DOORS or not place.is_file():
        raise Unusable(f"the {door[:20]} door is not open for {roll}: read the roll first", "print")
    return _bench(place, place.stat().st_mtime_ns)


def about_of(home: Path, roll: str, door: str) -> dict[str, Any]:
    """What was found with the transform of a door that is open."""
    place = _place(home, roll) / f"{door}.npz"
    found = _recipe(place, place.stat().st_mtime_ns)
    return found[1] if found is not None else {}


@dataclass(frozen=True)
class Kept:
    """A recipe as a key of a cache, by identity."""

    one: Recipe

    def __hash__(self) -> int:
        return id(self.one)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Kept) and other.one is self.one


@lru_cache(maxsize=12)
def _left(bench: Bench, leave: Leave) -> Recipe:
    """The roll's recipe with these corrections left out."""
    return replace(bench.recipe, leave=tuple(sorted(name for name in leave if stays_out(name, leave))))


@lru_cache(maxsize=96)
def _factors(
    recipe: Kept, file: str, part: Part | None, height: int, width: int, shrink: float, ratio: float
) -> np.ndarray:
    """Factors from a small copy's codes to evened codes (h, w, 3)."""
    across = None
    profile = recipe.one.profile()
    if profile is not None and file in recipe.one.boxes:
        _, top, _, picture = recipe.one.boxes[file]
        across = across_rows(profile, top, picture, height, shrink)
    gain = ratio if recipe.one.light is not None else ratio / 65535
    whole_light = recipe.one.lit()
    light = None if whole_light is None else field_within(whole_light, part, recipe.one.light_width)
    return EvenMap(light, across, gain, height, width).strip(0, height).copy()


def evened_small(
    home: Path, roll: str, file: str, bench: Bench, trim: Rows, leave: Leave | None = None
) -> np.ndarray:
    """Evened codes of a small copy with a trim, some corrections left out: (h, w, 3) uint16. None: what is usually left."""
    path = frame_of(home, roll, file)
    copy = small(home, roll, path)
    recipe = bench.recipe if leave is None else _left(bench, leave)
    part = part_at(path)
    veil, more = veil_of(recipe, file, part, copy.exposure_s, copy.full_scale)
    # The light's factor is for the scan's own values; the copy's are codes of 65535.
    scale = 1.0 if recipe.light is None else copy.full_scale / 65535
    ratio = recipe.gain(file, copy.exposure_s) * scale * more
    height, width = copy.values.shape[:2]
    factors = _factors(Kept(recipe), file, part, height, width, round(copy.shrink, 6), ratio)
    slopes = slope_of(trim)
    values = copy.values
    if recipe.dark or any(veil):
        form = recipe.form(file)
        lies = np.array(veil) if form is None else VeilOver(veil, form, height, width, False).strip(0, height)
        off = (lies + recipe.dark) * (65535 / copy.full_scale)
        values = values.astype(np.float32) - off.astype(np.float32)
    lit = cv2.multiply(factors, (*slopes, 0.0))  # type: ignore[call-overload]
    codes = cv2.multiply(values, lit, dtype=cv2.CV_16U)
    height, width = codes.shape[:2]
    lift_strip(codes, 0, lifted(recipe.softened(file).values(), copy.shrink, height, width))
    return codes


def picture(
    home: Path,
    roll: str,
    file: str,
    trim: Rows,
    leave: Leave | None = None,
    door: str = "fitted",
    width: int = LONGEST,
    bench: Bench | None = None,
    alone: bool = False,
) -> bytes:
    """A frame's positive as JPEG, at most 800 px, with a trim r g b [D] in all (its own and the balance).

    bench  in place of the door's own
    alone  cut to the picture, `width` then being the cut's
    """
    bench = bench or bench_of(home, roll, door)
    codes = evened_small(home, roll, file, bench, trim, leave)
    if alone and file in bench.recipe.boxes:
        shrink = small(home, roll, frame_of(home, roll, file)).shrink
        rows, columns = window(cuts_of(bench.recipe.boxes)[file], shrink, *codes.shape[:2])
        codes = set_straight(codes, rows, columns, bench.recipe.skews.get(file, 0.0))
    if width < codes.shape[1]:
        height = max(1, round(codes.shape[0] * width / codes.shape[1]))
        codes = cv2.resize(codes, (width, height), interpolation=cv2.INTER_AREA)
    out = np.empty(codes.shape, np.uint8)
    bench.through(np.ascontiguousarray(codes), out)
    done, data = cv2.imencode(".jpg", cv2.cvtColor(out, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, 88])
    return data.tobytes() if done else b""


def grey_at(home: Path, roll: str, file: str, x: int, y: int, leave: Leave | None, bench: Bench) -> Rows:
    """Density to add r g b [D] so that a spot of a frame, x y in the file's pixels, prints grey with no other trim."""
    codes = evened_small(home, roll, file, bench, NONE, leave)
    shrink = small(home, roll, frame_of(home, roll, file)).shrink
    column, row = int(x / shrink), int(y / shrink)
    if not (0 <= row < codes.shape[0] and 0 <= column < codes.shape[1]):
        raise Unusable("the spot lies outside the frame", "print")
    spot = codes[max(0, row - 3) : row + 4, max(0, column - 3) : column + 4].reshape(-1, 3)
    level = np.median(spot.astype(float), axis=0)
    if (level < 1).any():
        raise Unusable("no light comes through there", "print")
    above = -np.log10(level / 65535) - np.array(bench.recipe.base)
    if (above < 0.02).any():
        raise Unusable("the spot is as thin as bare film: choose something grey in the picture", "print")
    r, g, b = neutral_trim(above, bench.recipe.table, bench.recipe.matrix)
    if max(abs(r), abs(b)) > 1.0:
        raise Unusable("the spot is too far from grey to be one", "print")
    return (round(r, 4), round(g, 4), round(b, 4))


def keep(home: Path, roll: str, changed: dict[str, Rows]) -> int:
    """Keep trims as lines of the book; how many lines."""
    return keep_trims(home, roll, changed, {path.name for path in roll_files(folder_of(home, roll)).frames})


def notes_of(home: Path, roll: str) -> dict[str, Any]:
    """What the book knows that belongs into a picture: roll, stock, EI, process, numbers of frames."""
    files = roll_files(folder_of(home, roll)) if (home / "scans" / roll).is_dir() else None
    numbers = {path.name: i for i, path in enumerate(files.frames, 1)} if files else {}
    notes: dict[str, Any] = {"roll": roll, "numbers": numbers}
    if not (home / FILE).exists():
        return notes
    with Ledger.open(home) as book:
        for line in book.lines(thing=Thing("roll", roll)):
            body: dict[str, Any] = line.body
            if line.kind == "roll":
                notes["stock"] = body["stock"]
            elif line.kind == "run":
                notes["process"] = body["process"]
            elif line.kind == "exposed" and body.get("ei"):
                notes["ei"] = body["ei"]
    return notes
