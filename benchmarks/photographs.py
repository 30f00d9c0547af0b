"""Photographs for fitting the marks finder, out of openly packaged files: `python -m benchmarks.photographs DEBS POOL`.

DEBS holds the packages of docs/marks.md as `apt-get download` leaves them; POOL gets one PNG a picture, numbered in
reading order. `TAKEN` are the numbers of those that are photographs; every seventh is kept for the threshold.
"""

from __future__ import annotations

import re
import struct
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np

LONGEST = 1800
RANGES = (
    "14-27 31 44-52 53-59 61-66 68 70 71 73 75 77 78 82 86 89 91 96-106 138 139 150 167 182 194 199 203 212 243 251 252 "
    "268 302 329 330 349 353 373 375 390 402 403 416 428 460 472 484 500 513 514 547 549-551 555-563 565 567 568 571 "
    "573 575 576 578-580 582-584 585-695"
)
SCREENS = re.compile("screenshot|720x1440|1080x1920|1622x2880")


def taken() -> list[int]:
    """Numbers of the photographs in the pool."""
    ends = [[int(v) for v in part.split("-")] for part in RANGES.split()]
    return [number for part in ends for number in range(part[0], part[-1] + 1)]


def split(pool: Path) -> tuple[list[Path], list[Path]]:
    """Files for fitting, and those kept for the threshold."""
    files = {int(path.stem): path for path in pool.glob("*.png")}
    photographs = [files[number] for number in taken()]
    kept = photographs[3::7]
    return [path for path in photographs if path not in kept], kept


def pictures(unpacked: Path) -> Iterator[np.ndarray]:
    """Pictures of one unpacked package in reading order: plain files, and those inside resource files."""
    for path in sorted(unpacked.rglob("*")):
        if path.suffix.lower() in (".jpg", ".jpeg", ".png", ".webp") and path.stat().st_size > 25e3:
            if not SCREENS.search(path.name):
                yield cv2.imread(str(path), cv2.IMREAD_COLOR)
        elif path.suffix == ".rcc":
            yield from _inside(path.read_bytes())


def _inside(resource: bytes) -> Iterator[np.ndarray]:
    for found in re.finditer(rb"(?s)(.{4})(\xff\xd8\xff|RIFF....WEBP)", resource):
        length = struct.unpack(">I", found.group(1))[0]
        if 8000 < length < 5e6:
            data = resource[found.start(2) : found.start(2) + length]
            yield cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)


def usable(picture: np.ndarray | None) -> bool:
    """True for a colour picture of at least 260 pixels a side."""
    if picture is None or min(picture.shape[:2]) < 260:
        return False
    return bool(np.abs(picture[..., 0].astype(int) - picture[..., 1]).mean() >= 1.5)


def main(debs: Path, pool: Path) -> None:
    pool.mkdir(parents=True, exist_ok=True)
    number = 0
    order = sorted(debs.glob("*.deb"), key=lambda path: ("gcompris" in path.name, path.name))
    for deb in order:
        with tempfile.TemporaryDirectory() as folder:
            subprocess.run(["dpkg-deb", "-x", str(deb), folder], check=True)
            for picture in pictures(Path(folder)):
                if usable(picture):
                    shrink = min(1.0, LONGEST / max(picture.shape[:2]))
                    small = cv2.resize(picture, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
                    cv2.imwrite(str(pool / f"{number:04d}.png"), small)
                    number += 1


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
