"""A first look at a folder of flatbed files: `python -m benchmarks.first_look [frames] [seed]`, in seconds and in CPU.

Photographs that the marks finder was never fitted to, exposed on invented stocks with three marks each, inverted and
gamma-coded as a laboratory or a flatbed would, 1500 × 1000 pixels, JPEG of quality 92.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

from benchmarks.planted import KEPT_OUT, negative_of, photograph, planted

SIZE = (1500, 1000)


def write_frames(folder: Path, count: int, seed: int) -> None:
    """Write the files: positives, 8 bits, gamma 2.2."""
    rng = np.random.default_rng(seed)
    for number in range(1, count + 1):
        density, base, scale = negative_of(photograph(KEPT_OUT[number % len(KEPT_OUT)]), rng)
        density, _ = planted(density, scale, 3, rng)
        shown = np.clip((density - base) / 1.6, 0, 1) ** (1 / 1.3)
        large = cv2.resize(shown.astype(np.float32), SIZE, interpolation=cv2.INTER_CUBIC)
        large += rng.normal(0, 0.012, large.shape)
        codes = np.clip(large * 255, 0, 255).astype(np.uint8)[..., ::-1]
        cv2.imwrite(str(folder / f"scan{number:02d}.jpg"), codes, [cv2.IMWRITE_JPEG_QUALITY, 92])


def main() -> None:
    """Print the time on the clock, the CPU of all its processes, and what was found."""
    given = [int(word) for word in sys.argv[1:]]
    count, seed = (*given, *(36, 1)[len(given) :])
    with tempfile.TemporaryDirectory() as place:
        write_frames(Path(place), count, seed)
        began = time.perf_counter()
        call = [sys.executable, "-c", "from wetside.cli.main import main; main()", "look", place, "--json"]
        seen = json.loads(subprocess.run(call, check=True, capture_output=True).stdout)
        took, used = time.perf_counter() - began, resource.getrusage(resource.RUSAGE_CHILDREN)
    worked, load = used.ru_utime + used.ru_stime, os.getloadavg()[0]
    held = sum(bool(frame["marks"]) for frame in seen["frames"])
    print(f"{count} files of {SIZE[0]} × {SIZE[1]}: {took:.1f} s, {worked:.1f} s of CPU, load {load:.1f}")
    places = sum(len(frame["perhaps"]) for frame in seen["frames"])
    print(f"{len(seen['marks'])} marks in {held} frames, {places} places to look at")


if __name__ == "__main__":
    main()
