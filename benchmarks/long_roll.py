"""Memory over a long roll: a synthetic movie roll printed under a limit, `python -m benchmarks.long_roll FRAMES [MB] [unlocked]`.

The frames are small, so that what grows with their number shows. The limit is on address space (RLIMIT_AS), for the
printing process; the peak is resident memory as the kernel counted it.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from wetside.store.scans.originals import write_tiff16

BASE = np.array([0.2, 0.55, 0.8])
HEIGHT, WIDTH = 240, 320


def frame(number: int, rng: np.random.Generator) -> np.ndarray:
    """A frame with rebate at its edges: a bright patch that wanders over soft ground, with grain."""
    density = np.tile(BASE, (HEIGHT, WIDTH, 1))
    y, x = np.mgrid[0 : HEIGHT - 40, 0 : WIDTH - 24]
    ground = 0.45 + 0.15 * np.sin(x / 40 + number / 30) + 0.1 * np.cos(y / 25)
    spot = 0.6 * np.exp(-((x - 150 - 100 * np.sin(number / 50)) ** 2 + (y - 100) ** 2) / 900)
    density[20:-20, 12:-12] += (ground + spot)[..., None] * np.array([0.9, 1.0, 1.05])
    light = 10**-density * 52000
    return (light + rng.normal(0, 1, light.shape) * np.sqrt(light)).clip(0, 65535).astype(np.uint16)


def roll(folder: Path, frames: int, unlocked: bool = False) -> None:
    """The roll's scans and its open gate; `unlocked`, each scanned at an exposure of its own, up to 0.2 D less."""
    rng = np.random.default_rng(7)
    folder.mkdir()
    for number in range(frames):
        codes = frame(number, rng)
        gain = 10 ** -rng.uniform(0, 0.2) if unlocked else 1.0
        write_tiff16(folder / f"m{number + 1:05d}.tif", (codes * gain).astype(np.uint16))
    write_tiff16(folder / "open_gate.tif", np.full((HEIGHT, WIDTH, 3), 52000, np.uint16))


def main(frames: int, limit_mb: int, unlocked: bool) -> None:
    """Print one line of figures."""
    with tempfile.TemporaryDirectory() as place:
        roll(Path(place) / "scans", frames, unlocked)
        words = ["positive", str(Path(place) / "scans"), "--out", str(Path(place) / "out"), "--json"]
        call = (
            "import resource, sys\n"
            f"resource.setrlimit(resource.RLIMIT_AS, ({limit_mb} << 20, {limit_mb} << 20))\n"
            f"from wetside.cli.main import main\nif __name__ == '__main__':\n    sys.exit(main({words!r}))\n"
        )
        program = Path(place) / "call.py"
        program.write_text(call)
        for what in ("printed", "run again"):
            began = time.perf_counter()
            done = subprocess.run([sys.executable, str(program)], capture_output=True, text=True, check=False)
            if done.returncode:
                sys.exit(f"{frames} frames: exit {done.returncode}: {done.stderr.strip()[-300:]}")
            found = json.loads(done.stdout)
            worst = found["consistency"]["worst"] or float("nan")
            print(
                f"{frames} frames{' unlocked' * unlocked} {what}, {found['kept']} kept: {time.perf_counter() - began:.0f} s, peak "
                f"{found['peak_bytes'] / 1e6:.0f} MB, limit {limit_mb} MB, rebate within "
                f"{worst:.3f} D ({(found['consistency']['before'] or {}).get('worst', float('nan')):.3f} D before)",
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 3000, "unlocked" in sys.argv)
