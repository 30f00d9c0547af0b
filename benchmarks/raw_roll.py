"""A roll of camera raws of 24 megapixels, read and measured: `python -m benchmarks.raw_roll [frames] [folder]`.

The raws are written by another library than the one that reads them (Bayer DNG, 14 bits, 47 MB each), from photographs
on 35 mm film. Time on the clock and of the processor, and the peak of resident memory, of a process of its own: for a
third of the roll and for all of it, so that what grows with its length shows. A folder that holds the roll is used again.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.rolls import Setting, roll

#: Pixels a millimetre of the half-size picture, so that the raw holds 24 megapixels.
FINE = 66.0
CALL = """
import json, resource, sys, time
from pathlib import Path
from wetside.app.reading.read import ReadOptions, read
began = time.perf_counter()
steps = {}
def progress(what, done, total):
    steps[what] = round(time.perf_counter() - began, 1)
found = read(Path(sys.argv[1]), ReadOptions(gauge=sys.argv[2]), progress)
of_self, of_children = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
print(json.dumps({
    "clock_s": time.perf_counter() - began, "cpu_s": of_self.ru_utime + of_self.ru_stime + of_children.ru_utime + of_children.ru_stime,
    "peak_mb": of_self.ru_maxrss / 1024, "frames": len(found.frames), "marks": sum(len(f.marks) for f in found.frames), "steps": steps,
}))
"""


def measured(folder: Path, gauge: str = "135") -> dict[str, float]:
    """Seconds on the clock and of the processor, peak MB, frames and marks of a folder read by a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", CALL, str(folder), gauge], capture_output=True, text=True, check=True
    )
    found: dict[str, float] = json.loads(done.stdout)
    return found


def part_of(folder: Path, frames: int, place: Path) -> Path:
    """A folder with links to the first frames of a roll and its open gate."""
    place.mkdir()
    for name in [f"n{i}.dng" for i in range(1, frames + 1)] + [p.name for p in folder.glob("open_gate*")]:
        (place / name).symlink_to(folder / name)
    return place


def main(frames: int, folder: Path | None) -> None:
    """A row for a third of the roll and one for all of it."""
    with tempfile.TemporaryDirectory() as place:
        own = folder or Path(place) / "roll"
        if not (own / f"n{frames}.dng").exists():
            roll(own, Setting("135", frames=frames, fine=FINE, raw=True), 5)
        print(
            "| raws of 24 MP | s on the clock | s of the processor | peak MB | load of the machine before |\n|---|---|---|---|---|"
        )
        for some in (frames // 3, frames):
            load = os.getloadavg()[0]
            row = measured(part_of(own, some, Path(place) / f"first{some}"))
            print(
                f"| {some} | {row['clock_s']:.0f} | {row['cpu_s']:.0f} | {row['peak_mb']:.0f} | {load:.1f} |",
                row["steps"],
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 36, Path(sys.argv[2]) if len(sys.argv) > 2 else None)
