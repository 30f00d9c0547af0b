"""A roll's contact sheet as positives, with numbers and figures, and what its last printing tells the colourist."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any
from urllib.parse import quote

import cv2
import numpy as np

from wetside.app.printing.grey_lines import greys_of, spots
from wetside.app.printing.greyed import bench_with
from wetside.app.printing.handover import facts
from wetside.app.printing.print_room import notes_of, picture, room
from wetside.book.line import Thing
from wetside.figures.finding import Unusable
from wetside.store.ledger import FILE, Ledger

CELL, GAP, LABEL = 360, 16, 54
PAPER, INK = 250, 30


def _three(values: Iterable[float]) -> str:
    """Three densities with their signs, none of nothing less than nothing."""
    return " ".join(f"{round(value, 3) + 0.0:+.3f}".replace("-", "−") for value in values)


def contact(home: Path, roll: str, alone: bool = True) -> dict[str, Any]:
    """Frames with numbers, addresses of their pictures, exposure notes and lights, as the page draws them.

    alone  the pictures alone, in place of the whole scans
    """
    there = room(home, roll)
    if not there["ready"]:
        raise Unusable("the roll was not read for printing yet", "print")
    notes, exposed, even = notes_of(home, roll), _exposed(home, roll), _of_printing(home, roll)
    seen = {name: value for name, value in ((even or {}).get("seen") or {}).items() if value}
    balance = there["balance"]
    greys = "".join(f"&grey={quote(spot)}" for spot in spots(greys_of(home, roll)))
    frames = []
    for frame in there["frames"]:
        whole = tuple(own + all_ for own, all_ in zip(frame["trim"], balance))
        says = list(exposed.get(frame["number"], ()))
        if any(frame["trim"]):
            says.append(f"light {_three(frame['trim'])} D")
        if frame["file"] in seen:
            says.append(f"rebate {_three(seen[frame['file']])} D")
        r, g, b = whole
        src = f"/print/{quote(roll)}/{quote(frame['file'])}/picture.jpg?r={r:.4f}&g={g:.4f}&b={b:.4f}&width=480{greys}"
        width, height = frame["cut"][2:] if alone else (frame["width"], frame["height"])
        src += "&alone=true" if alone else ""
        frames.append({**frame, "whole": whole, "says": says, "src": src, "width": width, "height": height})
    film = ", ".join(
        f"{word}{notes[key]}"
        for key, word in (("stock", ""), ("process", ""), ("ei", "EI "))
        if notes.get(key)
    )
    shown = _three(balance) if any(balance) else ""
    return {"roll": roll, "frames": frames, "film": film, "balance": shown, "alone": alone}


def _exposed(home: Path, roll: str) -> dict[int, list[str]]:
    """Exposure notes by frame number."""
    found: dict[int, list[str]] = {}
    if not (home / FILE).exists():
        return found
    with Ledger.open(home) as book:
        for line in book.lines(thing=Thing("roll", roll), kind="exposed"):
            body: dict[str, Any] = line.body
            stops = body.get("stops") or 0.0
            parts = [f"EI {body['ei']:g}" if body.get("ei") else "", f"{stops:+g} stop" if stops else "",
                     str(body.get("light", "")), str(body.get("filter", "")), str(body.get("subject", ""))]  # fmt: skip
            say = ", ".join(part for part in parts if part)
            first, last = int(body["first_frame"]), int(body["last_frame"])
            for number in range(first, min(last, first + 5000) + 1):
                if say:
                    found.setdefault(number, []).append(say)
    return found


def _of_printing(home: Path, roll: str) -> dict[str, Any] | None:
    try:
        sheet: dict[str, Any] = json.loads(
            (home / "positives" / roll / "positive.json").read_text(encoding="utf-8")
        )
    except (OSError, ValueError):
        return None
    return sheet if isinstance(sheet, dict) and "consistency" in sheet else None


def colourist(home: Path, roll: str) -> list[tuple[str, str]]:
    """What the last printing tells a colourist; empty before the first."""
    room(home, roll)
    sheet = _of_printing(home, roll)
    return facts(sheet) if sheet else []


def contact_jpeg(home: Path, roll: str, alone: bool = True) -> bytes:
    """The contact sheet as one JPEG, on white, at most 6 pictures a row."""
    sheet = contact(home, roll, alone)
    cells = [_cell(home, roll, frame, alone) for frame in sheet["frames"]]
    columns = min(6, max(1, round(len(cells) ** 0.5 * 1.2)))
    height = max(cell.shape[0] for cell in cells)
    rows = -(-len(cells) // columns)
    paper = np.full((rows * (height + GAP) + GAP + LABEL, columns * (CELL + GAP) + GAP, 3), PAPER, np.uint8)
    _write(paper, f"{roll}   {sheet['film']}", GAP, 36, 0.9)
    for i, cell in enumerate(cells):
        y, x = LABEL + GAP + i // columns * (height + GAP), GAP + i % columns * (CELL + GAP)
        paper[y : y + cell.shape[0], x : x + CELL] = cell
    done, data = cv2.imencode(".jpg", paper, [cv2.IMWRITE_JPEG_QUALITY, 90])
    return data.tobytes() if done else b""


def _cell(home: Path, roll: str, frame: dict[str, Any], alone: bool) -> np.ndarray:
    try:
        bench = bench_with(home, roll, "fitted", greys_of(home, roll))
        data = picture(home, roll, frame["file"], frame["whole"], width=CELL, bench=bench, alone=alone)
        found = np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR))
        shown = cv2.resize(found, (CELL, max(1, round(found.shape[0] * CELL / found.shape[1]))))
    except Unusable:
        shown = np.full((CELL * 2 // 3, CELL, 3), 200, np.uint8)
    label = np.full((LABEL, CELL, 3), PAPER, np.uint8)
    _write(label, f"{frame['number']}   {frame['file'][:34]}", 2, 20, 0.5)
    _write(label, "  ".join(frame["says"])[:52], 2, 42, 0.42)
    return np.vstack([shown, label])


def _write(on: np.ndarray, text: str, x: int, y: int, size: float) -> None:
    plain = text.replace("−", "-").encode("ascii", "replace").decode()
    cv2.putText(on, plain, (x, y), cv2.FONT_HERSHEY_SIMPLEX, size, (INK, INK, INK), 1, cv2.LINE_AA)
