"""The negative on the glass: a roll's strip, views of its frames, a density under the finger, a look at dropped files."""

from __future__ import annotations

import re
import shutil
import uuid
from pathlib import Path
from typing import Any

import cv2

from wetside.app.contact_sheet import viewable
from wetside.app.look import look
from wetside.app.read import ReadOptions, lights, read
from wetside.book.kinds import Measured
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.stages.negative.patches import spot
from wetside.stages.negative.working import light_of
from wetside.store import clock
from wetside.store.ledger import FILE, Ledger
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load

NAME = re.compile(r"[\w .+@()-]{1,120}\Z")
MOST_FILES, MOST_KEPT = 60, 5


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


def strip(home: Path, roll: str) -> dict[str, Any]:
    """A roll's frames in order and what was last read of them, with the line it rests on."""
    files = listing(folder_of(home, roll))
    reading, line = last_reading(home, roll)
    by_file = {frame["file"]: frame for frame in reading.get("frames", ())} if reading else {}
    frames = []
    for number, path in enumerate(files.frames, 1):
        width, height = size_of(path)
        frames.append(
            {
                "number": number,
                "file": path.name,
                "width": width,
                "height": height,
                "read": by_file.get(path.name),
            }
        )
    return {"roll": roll, "frames": frames, "reading": reading, "line": line}


def size_of(path: Path) -> tuple[int, int]:
    """Width and height from the header; a damaged file has none."""
    from wetside.store.scans.load import header

    try:
        found = header(path)
    except Unusable:
        return 3, 2
    return found.width, found.height


def last_reading(home: Path, roll: str) -> tuple[dict[str, Any] | None, str | None]:
    """The last `wetside.read/1` noted for a roll, and its line."""
    if not (home / FILE).exists():
        return None, None
    with Ledger.open(home) as book:
        lines = [
            one
            for one in book.lines(thing=Thing("roll", roll), kind="measured")
            if one.body.get("what") == "read"
        ]
    return (lines[-1].body["result"], lines[-1].id) if lines else (None, None)  # type: ignore[return-value]


def read_and_keep(home: Path, roll: str, gauge: str | None) -> dict[str, Any]:
    """Read a roll now and keep the reading as a line."""
    reading = read(folder_of(home, roll), ReadOptions(gauge=gauge)).as_json()
    with Ledger.open(home) as book:
        book.append(Measured(roll=roll, what="read", result=reading), happened_at=clock.wall())
    return reading


def view(home: Path, roll: str, file: str, width: int, print_: bool = False) -> bytes:
    """A frame as JPEG at a width: the negative as scanned, or its print where one was made."""
    place = _frame(home, roll, file)
    if print_:
        made = home / "positives" / roll / f"{place.stem}.jpg"
        if not made.is_file():
            raise Unusable(f"no print of {file} yet: wetside positive", "glass")
        place = made
    picture = viewable(load(place), max(64, min(2400, width)))
    done, data = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
    return data.tobytes() if done else b""


def _frame(home: Path, roll: str, file: str) -> Path:
    path = folder_of(home, roll) / file
    if not NAME.match(file) or path.parent != folder_of(home, roll) or not path.is_file():
        raise Unusable(f"no frame {file[:60]!r} of {roll}", "glass")
    return path


def density_at(home: Path, roll: str, file: str, x: int, y: int, size: int = 15) -> dict[str, Any]:
    """Density of a small square around a place, from linear data, with its spread; null with the reason where it cannot be."""
    scan = load(_frame(home, roll, file))
    open_gate, dark, _ = lights(listing(folder_of(home, roll)), None)
    if scan.coding == "gamma":
        return {"density": None, "spread": None, "say": "a gamma-coded file yields no density"}
    found = spot(
        scan, Rectangle(x - size // 2, y - size // 2, size, size), open_gate, light_of(None, dark).dark, 1.0
    )
    kind = "camera density" if open_gate else "against the scan's full scale"
    return {
        "density": found.density.as_json() if found.density else None, "spread": found.spread.as_json() if found.spread else None,
        "say": found.reason or kind,
    }  # fmt: skip


def keep_dropped(home: Path, name: str | None, file: str, content: bytes) -> str:
    """Keep one dropped file in a scratch folder; returns the folder's name."""
    if not NAME.match(file):
        raise Unusable(f"a file name of plain letters was expected, found {file[:40]!r}", "glass")
    roll = name if name and re.fullmatch(r"look-[0-9a-f]{12}", name) else f"look-{uuid.uuid4().hex[:12]}"
    folder = home / "dropped" / roll
    folder.mkdir(parents=True, exist_ok=True)
    if len(list(folder.iterdir())) >= MOST_FILES:
        raise Unusable(f"at most {MOST_FILES} files are looked at in one go", "glass")
    (folder / file).write_bytes(content)
    _forget_old(home / "dropped")
    return roll


def _forget_old(place: Path) -> None:
    for folder in sorted(place.iterdir(), key=lambda p: p.stat().st_mtime)[:-MOST_KEPT]:
        shutil.rmtree(folder, ignore_errors=True)


def look_at(home: Path, roll: str, answers: dict[str, str] | None) -> dict[str, Any]:
    """The first look at dropped files or at a roll's scans."""
    return look(folder_of(home, roll), answers)
