"""A movie sequence read by sampling: `python -m benchmarks.sequences [frames] [width height]`.

Frames of 16 mm film with rebate and holes, a picture that moves, one exposure that moved and one damaged file in it.
Time on the clock and of the processor and the peak of memory, for a tenth of the sequence and for all of it; and in full
for as many frames as the sampling reads in full. Files of like pixels are links, so that a sequence fits on a disk: every
name is decoded, hashed and measured all the same.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import cv2
import numpy as np

from wetside.laws.reel.gauges import GAUGES
from wetside.store.scans.originals import write_tiff16

BASE = np.array([0.2, 0.55, 0.8])
KINDS = 16
CALL = """
import json, resource, sys, time
from pathlib import Path
from wetside.app.reading.read import ReadOptions
from wetside.app.reading.sequence import read_long
began = time.perf_counter()
found = read_long(Path(sys.argv[1]), ReadOptions(gauge="16cine"))
of_self = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps({
    "clock_s": time.perf_counter() - began, "cpu_s": of_self.ru_utime + of_self.ru_stime, "peak_mb": of_self.ru_maxrss / 1024,
    "frames": len(found.frames), "in_full": sum(f.in_full for f in found.frames), "found": [[f.id, f.where, f.found] for f in found.findings],
}))
"""


def frame(number: int, width: int, height: int, rng: np.random.Generator, denser: float = 0.0) -> np.ndarray:
    """uint16 (height, width, 3): a 16 mm cine frame with its holes at the top edge."""
    gauge = GAUGES["16cine"]
    px = height / (gauge.film_width_mm * 0.75)
    h, w = round(gauge.frame_across_mm * px), round(gauge.frame_along_mm * px)
    left, top = (width - w) // 2, height - h - round(0.4 * px)
    density = np.tile(BASE + denser, (height, width, 1)).astype(np.float32)
    soft = rng.uniform(0.1, 1.1, (9, 12, 1)).astype(np.float32)
    picture = cv2.resize(soft, (w, h), interpolation=cv2.INTER_CUBIC) + 0.1 * np.sin(
        np.arange(w) / 40 + number / 5
    )
    density[top : top + h, left : left + w] += picture[..., None] * np.array([0.9, 1.0, 1.05], np.float32)
    for side in (-0.5, 0.5):
        at = round(width / 2 + side * gauge.perf_pitch_mm * px - gauge.perf_along_mm * px / 2)
        density[
            round(0.3 * px) : round((0.3 + gauge.perf_across_mm) * px),
            max(0, at) : at + round(gauge.perf_along_mm * px),
        ] = 0
    light = 10**-density * 52000
    grain = rng.standard_normal(light.shape[:2]).astype(np.float32)[..., None] * np.sqrt(light)
    return (light + grain).clip(0, 65535).astype(np.uint16)


def sequence(folder: Path, frames: int, width: int, height: int) -> None:
    """The files and their open gate; the exposure of one frame in the last third moved by 0.15 D, the one after it is damaged."""
    rng = np.random.default_rng(11)
    folder.mkdir(parents=True)
    for number in range(1, frames + 1):
        place = folder / f"m{number:05d}.tif"
        if number <= KINDS:
            write_tiff16(place, frame(number, width, height, rng))
        else:
            os.link(folder / f"m{(number - 1) % KINDS + 1:05d}.tif", place)
    odd = frames * 3 // 4
    for number in (odd, odd + 1):
        (folder / f"m{number:05d}.tif").unlink()
    write_tiff16(folder / f"m{odd:05d}.tif", frame(odd, width, height, rng, 0.15))
    (folder / f"m{odd + 1:05d}.tif").write_bytes((folder / "m00001.tif").read_bytes()[:5000])
    write_tiff16(folder / "open_gate.tif", np.full((height, width, 3), 52000, np.uint16))


def measured(folder: Path) -> dict[str, object]:
    """Figures of a folder read by a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", CALL, str(folder)], capture_output=True, text=True, check=True
    )
    found: dict[str, object] = json.loads(done.stdout)
    return found


def main(frames: int, width: int, height: int) -> None:
    """A row for 24 frames, all in full, for a tenth of the sequence and for all of it."""
    print(
        f"| frames of {width} × {height} | in full | s on the clock | s of the processor | peak MB |\n|---|---|---|---|---|"
    )
    for some in (24, frames // 10, frames):
        with tempfile.TemporaryDirectory() as place:
            sequence(Path(place) / "s", some, width, height)
            row = measured(Path(place) / "s")
        print(
            f"| {row['frames']} | {row['in_full']} | {row['clock_s']:.0f} | {row['cpu_s']:.0f} | {row['peak_mb']:.0f} |",
            row["found"],
            flush=True,
        )


if __name__ == "__main__":
    main(*([int(a) for a in sys.argv[1:4]] or [4000, 2048, 1556]))
