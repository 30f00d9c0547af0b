"""The README's picture: frames of a roll as scanned above the same as printed, `python scripts/scanned_printed.py BOOK ROLL OUT.jpg [FRAMES]`.

The roll must have been read for printing (the page Print, or this script's `prepare`).
"""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np

from wetside.app.printing import print_room
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load

WIDTH, GAP = 1200, 4


def as_scanned(path: Path, width: int) -> np.ndarray:
    """A linear scan as a screen shows light: (h, width, 3) uint8, the brightest thousandth at white."""
    scan = load(path)
    height = round(scan.pixels.shape[0] * width / scan.pixels.shape[1])
    small = cv2.resize(scan.pixels.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA)
    light = np.clip(small / np.percentile(small, 99.9), 0, 1)
    srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.power(light, 1 / 2.4) - 0.055)
    out: np.ndarray = (srgb * 255 + 0.5).astype(np.uint8)
    return out


def as_printed(home: Path, roll: str, file: str, width: int) -> np.ndarray:
    """The frame's picture alone, with the lights that the book keeps for it."""
    trims, balance = print_room.trims_of(home, roll)
    r, g, b = (own + all_ for own, all_ in zip(trims.get(file, print_room.NONE), balance))
    data = print_room.picture(home, roll, file, (r, g, b), width=width, alone=True)
    return np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR))[..., ::-1]


def main(home: Path, roll: str, out: Path, frames: int) -> None:
    """Write the picture."""
    files = listing(home / "scans" / roll).frames[:frames]
    if not print_room.recipes(home, roll):
        print_room.prepare(home, roll)
    width = (WIDTH - GAP * (len(files) - 1)) // len(files)
    rows = []
    for row in (
        [as_scanned(path, width) for path in files],
        [as_printed(home, roll, path.name, width) for path in files],
    ):
        height = min(one.shape[0] for one in row)
        between = np.full((height, GAP, 3), 255, np.uint8)
        rows.append(np.hstack([part for one in row for part in (between, one[:height])][1:]))
    paper = np.full((GAP, rows[0].shape[1], 3), 255, np.uint8)
    whole = np.vstack([rows[0], paper, rows[1]])
    cv2.imwrite(str(out), whole[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3]), int(sys.argv[4]) if len(sys.argv) > 4 else 4)
