"""The negative on the glass: a roll's strip, views of its frames, a density under the finger, a look at dropped files."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import asdict, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from wetside.app.faults.reel import reel_of
from wetside.app.reading.lengths import opened, parts_of, roll_files, size_of_frame, strips_doubt
from wetside.app.reading.lie import lie_told
from wetside.app.reading.lights import lights
from wetside.app.reading.looked import reading_kept
from wetside.app.reading.read import PatchAt, ReadOptions
from wetside.app.reading.sequence import LONG, read_long
from wetside.app.reading.strips_shown import strips_shown
from wetside.app.sensitometry.calibrate import profile, profiles, read_in_status_m
from wetside.app.viewing.contact_sheet import viewable
from wetside.app.viewing.view_copies import LONGEST, frame_scan, view_copy
from wetside.book.kinds import Measured
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.figures.progress import Progress, silent
from wetside.figures.scan import Scan
from wetside.laws.image.evenness import full_size, light_factor
from wetside.stages.negative.measured.density_map import coloured
from wetside.stages.negative.scanner.shared import shared
from wetside.stages.negative.scanner.working import Light, field_within, light_of, reduced, working
from wetside.stages.positive.evening import across_rows
from wetside.store import clock, dropped
from wetside.store.ledger import FILE, Ledger
from wetside.store.scans.folder import IMAGES, listing
from wetside.store.scans.load import load
from wetside.store.scans.parts import stem_of, whole

#: A folder's or file's own name: no path, no hidden file, nothing that a file system keeps for itself.
NAME = re.compile(r"(?!\.)[^/\\:*?\"<>|\x00-\x1f\x7f\ud800-\udfff]{1,120}\Z")
#: Endings of file names that a scan may have.
KINDS = IMAGES
RANGE = 0.15
#: Frames of a long sequence that the strip shows before and after the one in question.
AROUND = 40


def rolls_with_scans(home: Path) -> list[str]:
    """Names of rolls whose scans lie in the book's folder."""
    folder = home / "scans"
    return sorted(p.name for p in folder.iterdir() if p.is_dir()) if folder.is_dir() else []


def folder_of(home: Path, roll: str) -> Path:
    """The folder of a roll's scans; Unusable for a name that is not one."""
    place = home / ("dropped" if roll.startswith("look-") else "scans") / roll
    if not NAME.match(roll) or not place.is_dir():
        raise Unusable(f"no scans of {roll[:60]!r}", "glass")
    return place


def strip(home: Path, roll: str, near: int = 1) -> dict[str, Any]:
    """A roll's frames in order and what was last read of them, with the line it rests on.

    Of a sequence of over 200 frames, those around the frame `near`; `count` is how many there are.
    """
    files = roll_files(folder_of(home, roll))
    reading, line = last_reading(home, roll)
    by_file = {frame["file"]: frame for frame in reading.get("frames", ())} if reading else {}
    lost = {
        one["where"]: one["say"]
        for one in (reading or {}).get("findings", ())
        if one["id"] == "frame-unreadable"
    }
    frames = []
    for number, path in stretch_around(files.frames, near):
        place = size_of_frame(path)
        frames.append(
            {
                "number": number,
                "file": path.name,
                "x": place.x,
                "y": place.y,
                "width": place.w,
                "height": place.h,
                "read": by_file.get(path.name),
                "lost": lost.get(path.name),
            }
        )
    named = [str(one["calibration"]) for one in profiles(home) if one["aim"] == "status M"]
    count = len(files.frames)
    return {
        "roll": roll, "frames": frames, "reading": reading, "line": line, "calibrations": named, "count": count,
        "long": count > LONG, "lie": asdict(lie_told(folder_of(home, roll))), "gauge": gauge_of(home, roll, reading),
    }  # fmt: skip


def gauge_of(home: Path, roll: str, reading: dict[str, Any] | None) -> str | None:
    """The gauge a roll was last read by, or the book's; None where neither is known."""
    if reading and reading.get("read_as"):
        return str(reading["read_as"])
    if roll.startswith("look-") or not (home / FILE).exists():
        return None
    with Ledger.open(home) as book:
        lines = list(book.lines(thing=Thing("roll", roll), kind="roll"))
    return str(lines[-1].body["gauge"]) if lines else None


def strips_of(home: Path, roll: str, file: str) -> dict[str, Any]:
    """A file as a whole: its size, how it is cut into frames, strips shown by hand (None: none were), and what is said of it."""
    path = whole(frame_of(home, roll, file))
    size = size_of_frame(path)
    shown = strips_shown(path.parent).get(path.name)
    return {
        "file": path.name, "width": size.w, "height": size.h,
        "parts": [part.as_json() for part in parts_of(path)],
        "shown": None if shown is None else [list(box) for box in shown],
        "doubt": [one.as_json() for one in strips_doubt(path)],
    }  # fmt: skip


def doubt_of(home: Path, roll: str, file: str) -> list[dict[str, Any]]:
    """What is said of a frame's file before it is read: strips that may lie side by side in it."""
    try:
        return [one.as_json() for one in strips_doubt(whole(frame_of(home, roll, file)))]
    except Unusable:
        return []


def stretch_around(frames: Sequence[Path], near: int) -> list[tuple[int, Path]]:
    """Frames with their numbers; of more than 200 the 81 around a number."""
    numbered = list(enumerate(frames, 1))
    if len(numbered) <= LONG:
        return numbered
    first = max(0, min(near - 1 - AROUND, len(numbered) - 2 * AROUND - 1))
    return numbered[first : first + 2 * AROUND + 1]


def last_reading(home: Path, roll: str) -> tuple[dict[str, Any] | None, str | None]:
    """The last `wetside.read/1` noted for a roll, and its line; of dropped scans, that of their first look, without one."""
    if roll.startswith("look-"):
        kept = reading_kept(folder_of(home, roll))
        return (kept.as_json(), None) if kept else (None, None)
    if not (home / FILE).exists():
        return None, None
    with Ledger.open(home) as book:
        lines = [
            one
            for one in book.lines(thing=Thing("roll", roll), kind="measured")
            if one.body.get("what") == "read"
        ]
    return (lines[-1].body["result"], lines[-1].id) if lines else (None, None)  # type: ignore[return-value]


def read_and_keep(
    home: Path,
    roll: str,
    gauge: str | None,
    calibration: str | None = None,
    stretch: tuple[int, int] | None = None,
    progress: Progress = silent,
) -> dict[str, Any]:
    """Read a roll now, with what the book knows (places shown by hand, calibration, reel); keep the reading as a line.

    `stretch`: first and last of those frames of a long sequence that shall be read in full as well.
    """
    pictures, base = shown_by_hand(home, roll)
    options = ReadOptions(gauge=gauge, picture_at=pictures, base_at=base, reel=reel_of(home, roll))
    place = folder_of(home, roll)
    if calibration:
        found = read_in_status_m(place, options, profile(home, calibration), progress)
    else:
        found = read_long(place, options, [stretch] if stretch else [], progress)
    reading = found.as_json()
    with Ledger.open(home) as book:
        kept = Measured(roll=roll, what="read", result=reading | ({"read_as": gauge} if gauge else {}))
        book.append(kept, happened_at=clock.wall())
    return reading


def show_place(home: Path, roll: str, file: str, what: str, box: Rectangle) -> None:
    """Keep a place shown by hand as a line: this rectangle is the "picture" of its frame, or bare "base"."""
    frame_of(home, roll, file)
    if box.w < 4 or box.h < 4:
        raise Unusable(f"a rectangle of 4 × 4 pixels at least was expected, found {box.w} × {box.h}", "glass")
    with Ledger.open(home) as book:
        body = Measured(roll=roll, what=f"{what} shown", result={"file": file, **box.as_json()})
        book.append(body, happened_at=clock.wall())


def shown_by_hand(home: Path, roll: str) -> tuple[tuple[PatchAt, ...], PatchAt | None]:
    """The last picture shown for each frame, and the last base shown; a file that is gone is passed over."""
    if not (home / FILE).exists():
        return (), None
    pictures: dict[str, PatchAt] = {}
    base = None
    with Ledger.open(home) as book:
        for one in book.lines(thing=Thing("roll", roll), kind="measured"):
            what, found = one.body.get("what"), one.body.get("result")
            if what not in ("picture shown", "base shown") or not isinstance(found, dict):
                continue
            if not whole(folder_of(home, roll) / str(found["file"])).is_file():
                continue
            at = PatchAt(str(found["file"]), Rectangle(*(int(found[key]) for key in "xywh")))
            if what == "picture shown":
                pictures[at.file] = at
            else:
                base = at
    return tuple(pictures.values()), base


def hand_of(home: Path, roll: str, file: str, reading: dict[str, Any] | None) -> dict[str, Any]:
    """What was shown by hand on a frame: its `picture`, the `base`; `waits`: the last reading has another picture."""
    pictures, base = shown_by_hand(home, roll)
    own = next((at.box.as_json() for at in pictures if at.file == file), None)
    read = next((f["picture"] for f in (reading or {}).get("frames", ()) if f["file"] == file), None)
    return {"picture": own, "base": base.box.as_json() if base and base.file == file else None, "waits": own is not None and own != read}  # fmt: skip


def view(home: Path, roll: str, file: str, width: int, print_: bool = False, shade: str = "scanned") -> bytes:
    """A frame as JPEG at a width: as scanned, evened, what the roll shares, or its print where one was made."""
    place, width = frame_of(home, roll, file), max(64, min(2400, width))
    if shade != "scanned" and not print_:
        return _jpeg(shaded(home, roll, place, width, shade))
    if print_:
        made = home / "positives" / roll / f"{stem_of(place.name)}.jpg"
        if not made.is_file():
            raise Unusable(f"no print of {file} yet: wetside positive", "glass")
        return _jpeg(viewable(load(made, hashed=False), width))
    if width > LONGEST:
        return _jpeg(viewable(as_stored(frame_scan(place)), width))
    return _jpeg(viewable(as_stored(view_copy(home, roll, place).scan), width))


def as_stored(scan: Scan) -> Scan:
    """A frame as it lies in its file."""
    return (
        scan
        if scan.part is None
        else replace(scan, pixels=np.ascontiguousarray(scan.part.stored(scan.pixels)))
    )


def _jpeg(picture: np.ndarray) -> bytes:
    blue_first = cv2.cvtColor(picture, cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".jpg", blue_first, [cv2.IMWRITE_JPEG_QUALITY, 88])
    return data.tobytes() if done else b""


def shaded(home: Path, roll: str, place: Path, width: int, shade: str) -> np.ndarray:
    """A frame "evened" (light and additive cast taken out), or what the roll's frames "share" at its place."""
    folder = folder_of(home, roll)
    if shade == "shared":
        wide, tall = size_of_frame(place)[2:]
        return cv2.resize(
            shared_picture(folder, folder.stat().st_mtime), (width, max(1, round(tall * width / wide)))
        )
    copy = view_copy(home, roll, place)
    scan = copy.scan
    _, light = lit(folder)
    if shade.startswith("map"):
        return mapped(scan, light, last_reading(home, roll)[0], place.name, width, shade.removeprefix("map"))
    pixels, shrink = reduced(scan.pixels, width)
    if light.field is not None:
        field = field_within(light.field, scan.part, light.file_width or scan.width)
        pixels = pixels * full_size(light_factor(field), *pixels.shape[:2])
    profile, stored = _stain(last_reading(home, roll)[0], place.name)
    if profile is not None and stored is not None:
        picture = stored if scan.part is None else scan.part.in_part(stored)
        rows = across_rows(profile, picture.y, picture.h, pixels.shape[0], shrink * copy.shrink)
        pixels = pixels * rows[:, None]
    return viewable(as_stored(replace(scan, pixels=pixels)), width)


def mapped(
    scan: Scan, light: Light, reading: dict[str, Any] | None, file: str, width: int, layer: str
) -> np.ndarray:
    """A frame's densities above its base as colours, of one layer or ("") of their mean; from its thinnest part where no
    base was read."""
    if scan.coding == "gamma":
        raise Unusable("a gamma-coded file yields no density", "glass")
    found = working(scan, light).density
    base = map_base(reading, file)
    own = found.mean(axis=2) if layer == "" else found[..., "rgb".index(layer)]
    zero = float(np.percentile(own, 1))
    if base is not None:
        zero = sum(base.values()) / 3 if layer == "" else base[layer]
    size = (width, max(1, round(scan.height * width / scan.width)))
    return as_stored(
        replace(scan, pixels=coloured(cv2.resize(own, size, interpolation=cv2.INTER_AREA), zero))
    ).pixels


def map_base(reading: dict[str, Any] | None, file: str) -> dict[str, float] | None:
    """The base [D] that a frame's map counts from; None where the last reading has none."""
    frame: dict[str, Any] = next((f for f in (reading or {}).get("frames", ()) if f["file"] == file), {})
    found = frame.get("base") or (reading or {}).get("base")
    return (
        {c: float(found[c]) for c in "rgb"}
        if found and (reading or {}).get("density") != "status M"
        else None
    )


def _stain(
    reading: dict[str, Any] | None, file: str
) -> tuple[tuple[np.ndarray, np.ndarray] | None, Rectangle | None]:
    """The profile of the last reading's additive cast and the frame's picture; None where none was found."""
    cast = (reading or {}).get("cast") or {}
    frame = next((f for f in (reading or {}).get("frames", ()) if f["file"] == file), None)
    points = cast.get("profile") or ()
    if not cast.get("found") or cast.get("kind") != "additive" or len(points) < 2 or frame is None:
        return None, None
    profile = np.array([p["across"] for p in points]), np.array([[p[c] for c in "rgb"] for p in points])
    return profile, Rectangle(*(int(frame["picture"][key]) for key in "xywh"))


def lit(folder: Path) -> tuple[Scan | None, Light]:
    """The open gate of a roll's folder, and its light."""
    files = listing(folder)
    paths = [path for path in (files.open_gate, files.dark) if path is not None]
    return _light_kept(folder, tuple((path, path.stat().st_size, path.stat().st_mtime_ns) for path in paths))


@lru_cache(maxsize=2)
def _light_kept(folder: Path, _stamps: tuple[tuple[Path, int, int], ...]) -> tuple[Scan | None, Light]:
    open_gate, dark, _ = lights(listing(folder), None)
    return open_gate, light_of(open_gate, dark)


@lru_cache(maxsize=4)
def shared_picture(folder: Path, _changed: float) -> np.ndarray:
    """8-bit picture of what at most 12 frames of a roll share: blue thinner, grey alike, orange denser, ±0.15 D."""
    files = roll_files(folder)
    _, light = lit(folder)
    seen = []
    for path in files.frames[:: max(1, len(files.frames) // 12)][:12]:
        try:
            small, _ = reduced(working(opened(path), light).density.mean(axis=2)[..., None], 320)
        except Unusable:
            continue
        seen.append(small.reshape(small.shape[:2]))
    if not seen:
        raise Unusable("no frame of the roll can be read", "glass")
    away = np.clip(shared(seen) / RANGE, -1, 1)[..., None]
    denser, thinner = np.array([235, 120, 20], np.float32), np.array([40, 110, 225], np.float32)
    plain = np.array([236, 236, 232], np.float32)
    tinted = plain + np.maximum(away, 0) * (denser - plain) + np.maximum(-away, 0) * (thinner - plain)
    return tinted.astype(np.uint8)


def frame_of(home: Path, roll: str, file: str) -> Path:
    path = folder_of(home, roll) / file
    if not NAME.match(file) or path.parent != folder_of(home, roll) or not whole(path).is_file():
        raise Unusable(f"no frame {file[:60]!r} of {roll}", "glass")
    return path


def keep_dropped(home: Path, name: str | None, file: str, content: bytes) -> str:
    """Keep one dropped file in a scratch folder; returns the folder's name."""
    return dropped.keep_dropped(home / "dropped", name, file, content)
