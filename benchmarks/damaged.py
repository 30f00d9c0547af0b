"""Damaged files of every format, read as `wetside read` reads them: `python -m benchmarks.damaged [cases] [seed]`.

Bytes of headers and bodies are changed, cut out, doubled, numbers in headers made huge, files cut short. Each case is
one file beside a good one in a folder; a case is well met by a reading, a finding or one line of `Unusable`. Anything
else, more than five seconds of work, or more than 2 GB is a failure and is printed with its seed.
"""

from __future__ import annotations

import multiprocessing
import resource
import sys
import tempfile
import time
from collections import Counter
from multiprocessing.connection import Connection
from pathlib import Path

import cv2
import numpy as np
import tifffile

from wetside.figures.finding import Unusable
from wetside.store.scans.load import load
from wetside.store.scans.originals import write_dng, write_log_dpx, write_tiff16
from wetside.store.scans.sinks import write_picture

KINDS = ("tif", "dng", "dpx", "exr", "png", "jpg", "jxl", "lzw.tif", "tiled.tif", "zlib.png", "float.tif")
HUGE = (0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 0x80000000, 65535, 1 << 20, 0xFFFF0000)
SECONDS, BYTES = 5.0, 2_000_000_000


def written(path: Path, kind: str) -> None:
    """A good file of a kind: a wedge with noise, 96 × 64."""
    rng = np.random.default_rng(5)
    steps = np.repeat(10 ** (-0.12 * np.arange(12)), 8)
    light = np.broadcast_to(steps[None, :, None], (64, 96, 3)) * 55000 + rng.normal(0, 60, (64, 96, 3))
    pixels = light.clip(0, 65535).astype(np.uint16)
    if kind == "tif":
        write_tiff16(path, pixels)
    elif kind == "dng":
        write_dng(path, pixels)
    elif kind == "dpx":
        write_log_dpx(path, pixels, np.zeros(3))
    elif kind == "exr":
        write_picture(path, pixels.astype(np.float32) / 65535, "exr", "ACEScg")
    elif kind == "lzw.tif":
        tifffile.imwrite(path, pixels, photometric="rgb", compression="lzw", predictor=True)
    elif kind == "tiled.tif":
        tifffile.imwrite(path, pixels, photometric="rgb", tile=(32, 32), compression="zlib")
    elif kind == "float.tif":
        tifffile.imwrite(path, pixels.astype(np.float32) / 65535, photometric="rgb")
    elif kind == "jxl":
        _by_library(path, (pixels >> 8).astype(np.uint8))
    else:
        cv2.imwrite(str(path), (pixels >> 8).astype(np.uint8) if kind == "jpg" else pixels)


def _by_library(path: Path, pixels: np.ndarray) -> None:
    import OpenImageIO as oiio

    out = oiio.ImageOutput.create(str(path))
    out.open(str(path), oiio.ImageSpec(pixels.shape[1], pixels.shape[0], 3, oiio.UINT8))
    out.write_image(pixels)
    out.close()


def damaged(content: bytes, rng: np.random.Generator) -> bytes:
    """The content with one to four injuries, most of them in its first kilobyte."""
    data = bytearray(content)
    for _ in range(int(rng.integers(1, 5))):
        reach = min(len(data), 1024) if rng.random() < 0.7 else len(data)
        if reach < 8:
            break
        at = int(rng.integers(0, reach - 4))
        how = int(rng.integers(6))
        if how == 0:
            data[at] = int(rng.integers(256))
        elif how == 1:
            data[at] ^= 1 << int(rng.integers(8))
        elif how == 2:
            data[at : at + 4] = int(rng.choice(HUGE)).to_bytes(4, "little" if rng.random() < 0.5 else "big")
        elif how == 3:
            del data[at : at + int(rng.integers(1, 40))]
        elif how == 4:
            data[at:at] = data[at : at + int(rng.integers(1, 40))]
        else:
            del data[int(rng.integers(0, len(data))) :]
    return bytes(data)


def met(path: Path) -> str:
    """How one file was met: "read", "refused", or what went wrong."""
    try:
        scan = load(path)
    except Unusable as slip:
        return (
            "refused" if "\n" not in slip.what and len(slip.what) < 400 else f"a long line: {slip.what[:80]}"
        )
    except Exception as fault:
        return f"{type(fault).__name__}: {str(fault)[:120]}"
    good = scan.pixels.ndim == 3 and scan.pixels.shape[2] == 3
    return "read" if good else f"shape {scan.pixels.shape}"


def _cases(kind: str, first: int, count: int, to: Connection) -> None:
    with tempfile.TemporaryDirectory() as place:
        good = Path(place) / f"good.{kind}"
        written(good, kind)
        content = good.read_bytes()
        for seed in range(first, first + count):
            bad = Path(place) / f"bad.{kind.split('.')[-1]}"
            bad.write_bytes(damaged(content, np.random.default_rng(seed)))
            to.send((seed, "begun", 0.0))
            began = time.process_time()
            said = met(bad)
            spent = time.process_time() - began
            to.send((seed, said if spent < SECONDS else f"{spent:.1f} s", spent))
    to.send((-1, str(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024), 0.0))


def study(
    kind: str, count: int, first: int = 0, patience: float = 60.0
) -> tuple[Counter[str], list[str], float, int]:
    """Counts of "read" and "refused", failures with their seeds, the slowest case [CPU s], most memory [bytes]."""
    counts, failures, slowest, memory, at = Counter[str](), list[str](), 0.0, 0, first
    context = multiprocessing.get_context("spawn")
    while at < first + count:
        here, there = context.Pipe(False)
        worker = context.Process(target=_cases, args=(kind, at, first + count - at, there))
        worker.start()
        there.close()
        now = at
        try:
            while here.poll(patience):
                seed, said, spent = here.recv()
                if seed < 0:
                    memory, at = max(memory, int(said)), first + count
                    break
                now = seed
                if said == "begun":
                    continue
                slowest = max(slowest, spent)
                counts[said if said in ("read", "refused") else "failed"] += 1
                if said not in ("read", "refused"):
                    failures.append(f"{kind} {seed}: {said}")
            else:
                failures.append(f"{kind} {now}: no answer in {patience:.0f} s")
                counts["failed"] += 1
        except EOFError:
            worker.join()
            failures.append(f"{kind} {now}: the process ended by itself ({worker.exitcode})")
            counts["failed"] += 1
        worker.kill()
        worker.join()
        if at < first + count:
            at = now + 1
    return counts, failures, slowest, memory


def main(cases: int, first: int) -> int:
    """A row a kind; the number of failures."""
    each, failed = -(-cases // len(KINDS)), 0
    print(
        "| file | cases | read all the same | refused in a line | failed | slowest, CPU s | memory, MB |\n|---|---|---|---|---|---|---|"
    )
    for kind in KINDS:
        counts, failures, slowest, memory = study(kind, each, first)
        failed += len(failures)
        print(
            f"| {kind} | {each} | {counts['read']} | {counts['refused']} | {counts['failed']} | {slowest:.2f} | {memory / 1e6:.0f} |",
            flush=True,
        )
        for failure in failures:
            print(f"    {failure}", file=sys.stderr, flush=True)
    return failed


if __name__ == "__main__":
    sys.exit(
        1
        if main(int(sys.argv[1]) if len(sys.argv) > 1 else 5500, int(sys.argv[2]) if len(sys.argv) > 2 else 0)
        else 0
    )
