"""A frame of 24 megapixels on the glass at 1600 px: `python -m benchmarks.previews`.

First look at an uncompressed 16-bit TIFF and at a raw, later looks from the small linear copy, another width, and a
density under the finger. Median and least of the processor's ms and of the clock's; JPEG included; file in the cache.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.rolls import Setting, roll
from wetside.app.viewing import densitometer, glass
from wetside.store.scans import recent

TIMES = 7


def timed(call: Callable[[], object], before: Callable[[], None] = lambda: None) -> str:
    """Processor and clock, median / least, ms."""
    spent = []
    for _ in range(TIMES):
        before()
        cpu, clock = time.process_time(), time.perf_counter()
        call()
        spent.append((time.process_time() - cpu, time.perf_counter() - clock))
    ms = np.array(spent) * 1e3
    return (
        f"{np.median(ms[:, 0]):.0f} / {ms[:, 0].min():.0f} | {np.median(ms[:, 1]):.0f} / {ms[:, 1].min():.0f}"
    )


def main() -> None:
    """Print the rows."""
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        for kind, setting in (
            ("TIFF", Setting(frames=1, fine=132.0)),
            ("raw", Setting(frames=1, fine=66.0, raw=True)),
        ):
            roll(home / "scans" / kind, replace(setting, grain=0.01), 3)
        print("| 24 MP, 1600 px | processor: median / least, ms | clock: median / least, ms |\n|---|---|---|")
        for kind, file in (("TIFF", "n1.tif"), ("raw", "n1.dng")):

            def fresh(kind: str = kind) -> None:
                recent._kept.clear()
                shutil.rmtree(home / "proxies" / kind, ignore_errors=True)

            def seen(width: int, kind: str = kind, file: str = file) -> object:
                return glass.view(home, kind, file, width)

            print(f"| {kind}, first look | {timed(lambda: seen(1600), fresh)} |")
            print(f"| {kind}, from its copy | {timed(lambda: seen(1600))} |")
            print(f"| {kind}, from its copy at 800 px | {timed(lambda: seen(800))} |")
            point = lambda kind=kind, file=file: densitometer.density_at(home, kind, file, 2000, 2000)  # noqa: E731
            print(f"| {kind}, density under the finger, same frame | {timed(point)} |", flush=True)


if __name__ == "__main__":
    main()
