"""Printing frame after frame, two side by side, and by clusters of 1, 2 and 4 workers on loopback:
`python -m benchmarks.beyond [FRAMES [HEIGHT WIDTH [SOURCES]]]`.

Only the printing is timed; the roll has been read. Frames are 2K unless a size is given, 16 bits, uncompressed, from the cache.
With a number of sources so many files are written, linked under the other names, and no cluster is tried: large frames then fit
a small disk. Pictures of the run before are deleted before each. A bare copy of the same files in the same minute is the floor of
what any program that writes them can do.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from wetside.app.printing.cluster import Cluster
from wetside.app.printing.crew import alone, crew
from wetside.app.printing.positive import Crew, PositiveOptions, positive
from wetside.store.scans.journal import PLACE
from wetside.store.scans.originals import write_tiff16
from wetside.store.scans.stamps import SETTLED

HEIGHT, WIDTH = 1556, 2048


def roll(folder: Path, frames: int, height: int = HEIGHT, width: int = WIDTH, sources: int = 0) -> None:
    """Scans with rebate, all alike but for their level; of so many sources under all names, where a number is given."""
    rng = np.random.default_rng(5)
    density = np.tile(np.float32([0.2, 0.55, 0.8]), (height, width, 1))
    blocks = np.kron(rng.uniform(0.2, 1.2, (height // 80, width // 80)), np.ones((80, 80)))
    density[80:-80, 60:-60] += blocks[: height - 160, : width - 120, None]
    light = 10**-density * 56000 + 30 * rng.standard_normal(density.shape, np.float32)
    folder.mkdir()
    for number in range(frames):
        file = folder / f"k{number:03d}.tif"
        if sources and number >= sources:
            os.link(folder / f"k{number % sources:03d}.tif", file)
        else:
            write_tiff16(file, (light * (1 - 0.0005 * number)).clip(0, 65535).astype(np.uint16))


@contextmanager
def cluster(workers: int) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The address of a scheduler on loopback, and its workers of one thread, each a process."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    run = [sys.executable, "-W", "ignore", "-m"]
    here = ["--host", "127.0.0.1", "--port", str(port), "--no-dashboard"]
    each = [address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
    env = {**os.environ, "DASK_DISTRIBUTED__WORKER__MEMORY__TERMINATE": "false"}

    def start(name: str, *arguments: str) -> subprocess.Popen[bytes]:
        nowhere = subprocess.DEVNULL
        return subprocess.Popen(
            [*run, f"distributed.cli.{name}", *arguments], env=env, stdout=nowhere, stderr=nowhere
        )

    scheduler = start("dask_scheduler", *here)
    crew = [start("dask_worker", *each) for _ in range(workers)]
    try:
        from distributed import Client

        with Client(address, timeout=60, set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=60)
        yield address, crew
    finally:
        for process in (*crew, scheduler):
            process.kill()
            process.wait()


def timed(place: Path, key: str, files: list[Path], crew: Crew) -> float:
    """Seconds to print all frames, those of the run before deleted first."""
    delete_pictures(place)
    began = time.perf_counter()
    found = list(crew(place, key, files))
    spent = time.perf_counter() - began
    slips = [one for one in found if "slip" in one]
    if len(found) != len(files) or slips:
        sys.exit(f"{len(found)} of {len(files)} frames: {slips[:1]}")
    return spent


def delete_pictures(place: Path) -> None:
    """Delete what was printed by the recipe at a place."""
    for picture in place.parent.parent.glob("*.tif"):
        picture.unlink()


def copied(files: list[Path], place: Path) -> float:
    """Seconds to copy the files, each written beside and renamed as a picture is."""
    place.mkdir()
    began = time.perf_counter()
    for file in files:
        shutil.copyfile(file, place / "part")
        (place / "part").replace(place / file.name)
    return time.perf_counter() - began


def main(frames: int, height: int, width: int, sources: int = 0) -> None:
    """Print a table."""
    with tempfile.TemporaryDirectory() as where:
        scans, out = Path(where) / "scans", Path(where) / "out"
        roll(scans, frames, height, width, sources)
        time.sleep(SETTLED / 1e9)  # a file that has only just been written is hashed again
        keys: list[str] = []

        def first(place: Path, key: str, files):  # type: ignore[no-untyped-def]
            keys.append(key)
            return alone(place, key, files)

        positive(scans, PositiveOptions(out, crew=first))
        place, files = out / PLACE / "recipe.npz", sorted(scans.glob("k*.tif"))
        cpu = time.process_time()
        base = min(timed(place, keys[0], files, alone) for _ in range(1 if sources else 2))
        cpu = (time.process_time() - cpu) / (frames if sources else 2 * frames)
        print(f"| by | s for {frames} frames | frames/s | against one process |\n|---|---|---|---|")

        def row(name: str, spent: float) -> None:
            print(f"| {name} | {spent:.1f} | {frames / spent:.1f} | {base / spent:.2f}× |", flush=True)

        delete_pictures(place)
        row("a bare copy", copied(files, Path(where) / "copy"))
        shutil.rmtree(Path(where) / "copy")
        row(f"this process, one frame at a time ({cpu * 1e3:.0f} ms of the processor a frame)", base)
        cpu = time.process_time()
        two = timed(place, keys[0], files, lambda p, k, f: crew(p, k, f, 2))
        cpu = (time.process_time() - cpu) / frames
        row(f"this process, two frames at a time ({cpu * 1e3:.0f} ms of the processor a frame)", two)
        for workers in () if sources else (1, 2, 4):
            with cluster(workers) as (address, _):
                timed(place, keys[0], files[: 8 * workers], Cluster(address))
                row(
                    f"cluster, {workers} worker{'s' * (workers > 1)}",
                    timed(place, keys[0], files, Cluster(address)),
                )


if __name__ == "__main__":
    asked = [int(v) for v in sys.argv[1:5]]
    main(*asked, *(64, HEIGHT, WIDTH)[len(asked) :])
