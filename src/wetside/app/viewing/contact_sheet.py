"""A contact sheet of a folder: small pictures in order, their numbers, marks outlined in dashed black and white, places to look at in dots."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from wetside.app.reading.lengths import opened
from wetside.figures.finding import Unusable
from wetside.figures.reading import FrameReading, RollReading
from wetside.figures.scan import Scan

CELL, GAP, LABEL = 300, 14, 26


def write_contact_sheet(folder: Path, reading: RollReading, file: Path) -> None:
    """Write the sheet beside its place and rename it; frames that cannot be read any more are left blank."""
    cells = [_cell(folder / frame.file, frame) for frame in reading.frames]
    columns = min(6, max(1, round(len(cells) ** 0.5 * 1.3)))
    rows = -(-len(cells) // columns)
    height = max(cell.shape[0] for cell in cells)
    sheet = np.full((rows * (height + GAP) + GAP, columns * (CELL + GAP) + GAP, 3), 24, np.uint8)
    for i, cell in enumerate(cells):
        y, x = GAP + i // columns * (height + GAP), GAP + i % columns * (CELL + GAP)
        sheet[y : y + cell.shape[0], x : x + CELL] = cell
    _write(file, sheet)


def _cell(path: Path, frame: FrameReading) -> np.ndarray:
    try:
        scan = opened(path)
    except Unusable:
        return np.full((CELL, CELL, 3), 40, np.uint8)
    picture = viewable(scan, CELL)
    factor = picture.shape[1] / (scan.width * scan.shrink)
    for mark in frame.marks:
        _dashed(picture, mark.box.x * factor, mark.box.y * factor, mark.box.w * factor, mark.box.h * factor)
    for place in frame.perhaps:
        _dotted(picture, *(v * factor for v in place.box))
    label = np.full((LABEL, CELL, 3), 24, np.uint8)
    text = f"{frame.number}  {frame.file[:24]}" + (f"  {len(frame.marks)} marks" if frame.marks else "")
    cv2.putText(label, text, (4, 18), cv2.FONT_HERSHEY_SIMPLEX, 0.45, (220, 220, 214), 1, cv2.LINE_AA)
    return np.vstack([picture[..., ::-1], label])


def viewable(scan: Scan, width: int) -> np.ndarray:
    """An 8-bit picture (h, width, 3) r, g, b of a scan as it is, linear files brightened for the eye."""
    height = max(1, round(scan.height * width / scan.width))
    codes = shrunk(scan.pixels, width, height)
    if codes.dtype.kind == "f":
        codes = (np.clip(np.nan_to_num(codes / scan.full_scale), 0, 1) * 65535).astype(np.uint16)
    if scan.coding != "gamma":
        return _brightened(codes, int(np.iinfo(codes.dtype).max))
    return codes if codes.dtype == np.uint8 else (codes >> 8).astype(np.uint8)


def shrunk(pixels: np.ndarray, width: int, height: int) -> np.ndarray:
    """Averaged pixels (height, width, 3) of the same kind: many are halved first, and under a factor of two straight lines
    between them leave none out; a seventh of the time that areas take, and nearer to the average over whole areas."""
    tall, wide = pixels.shape[:2]
    if wide >= 2 * width and tall >= 2 * height and pixels.dtype == np.uint16:
        pixels = cv2.resize(
            pixels[: tall // 2 * 2, : wide // 2 * 2], (wide // 2, tall // 2), interpolation=cv2.INTER_AREA
        )
    close = pixels.dtype == np.uint16 and pixels.shape[1] < 2 * width and pixels.shape[0] < 2 * height
    return cv2.resize(pixels, (width, height), interpolation=cv2.INTER_LINEAR if close else cv2.INTER_AREA)


def _brightened(codes: np.ndarray, most: int) -> np.ndarray:
    """8-bit codes for the eye of linear ones: white at their 99.5th percentile."""
    white = max(1e-4 * most, float(np.percentile(codes[::5, ::5], 99.5)))
    tones = np.power(np.clip(np.arange(most + 1) / white, 0, 1), 1 / 2.2) * 255
    shown: np.ndarray = cv2.LUT(codes, tones.astype(np.uint8)[None])
    return shown


def _dashed(picture: np.ndarray, x: float, y: float, w: float, h: float) -> None:
    """A rectangle in dashes of black and white, never thinner than it can be seen."""
    x0, y0 = int(x) - 3, int(y) - 3
    x1, y1 = int(x + w) + 3, int(y + h) + 3
    for (ax, ay), (bx, by) in (
        ((x0, y0), (x1, y0)),
        ((x1, y0), (x1, y1)),
        ((x1, y1), (x0, y1)),
        ((x0, y1), (x0, y0)),
    ):
        steps = max(2, int(np.hypot(bx - ax, by - ay) // 4))
        for i in range(steps):
            a = (round(ax + (bx - ax) * i / steps), round(ay + (by - ay) * i / steps))
            b = (round(ax + (bx - ax) * (i + 1) / steps), round(ay + (by - ay) * (i + 1) / steps))
            cv2.line(picture, a, b, (255, 255, 255) if i % 2 else (0, 0, 0), 1)


def _dotted(picture: np.ndarray, x: float, y: float, w: float, h: float) -> None:
    """An ellipse in dots of white on black round a rectangle, some five pixels apart."""
    half = 0.6 * w + 4, 0.6 * h + 4
    count = max(10, int(np.pi * sum(half) / 5))
    for turn in np.arange(count) * 2 * np.pi / count:
        at = round(x + w / 2 + half[0] * np.cos(turn)), round(y + h / 2 + half[1] * np.sin(turn))
        cv2.circle(picture, at, 1, (0, 0, 0), -1)
        cv2.circle(picture, at, 0, (255, 255, 255), -1)


def _write(file: Path, sheet: np.ndarray) -> None:
    done, data = cv2.imencode(".jpg", sheet, [cv2.IMWRITE_JPEG_QUALITY, 90])
    beside = file.with_name(f".{file.name}.part")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(data.tobytes() if done else b"")
        beside.replace(file)
    except OSError as slip:
        beside.unlink(missing_ok=True)
        raise Unusable(f"could not be written: {slip.strerror}", str(file)) from None
