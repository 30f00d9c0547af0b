"""How often sharpened scans are told, and plain ones called sharpened: `python -m benchmarks.sharpening [rolls a cell] [seed]`.

Rolls of the four gauges at a flatbed's 14 px/mm, smeared by a lens and scanner before their noise, then sharpened by an
unsharp mask (radius [px], amount; in light or in gamma-coded values) or enlarged, and read as `wetside read` reads them.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import tifffile

from benchmarks.rolls import SCALE, Setting, roll
from wetside.app.reading.read import ReadOptions, read

Change = Callable[[np.ndarray], np.ndarray]
FINE = 14.0
BLURS = (0.6, 1.0, 1.6)


def unsharp(radius: float, amount: float, gamma: float = 1.0) -> Change:
    """An unsharp mask on light, or on values coded by a gamma."""

    def change(light: np.ndarray) -> np.ndarray:
        coded = light ** (1 / gamma)
        coded = coded + amount * (coded - cv2.GaussianBlur(coded, (0, 0), radius))
        return np.clip(coded, 0, 1) ** gamma

    return change


def enlarged(light: np.ndarray) -> np.ndarray:
    """By half as much again, with straight lines between pixels."""
    return cv2.resize(light, None, fx=1.5, fy=1.5, interpolation=cv2.INTER_LINEAR)


TREATMENTS: dict[str, Change | None] = {
    "as scanned": None,
    "enlarged": enlarged,
    "0.8 px, 100 %": unsharp(0.8, 1.0),
    "1.5 px, 50 %": unsharp(1.5, 0.5),
    "1.5 px, 100 %": unsharp(1.5, 1.0),
    "3 px, 50 %": unsharp(3.0, 0.5),
    "1.5 px, 80 %, coded": unsharp(1.5, 0.8, 2.2),
}


def told(setting: Setting, change: Change | None, seed: int) -> bool:
    """Whether a roll so made is called sharpened."""
    with tempfile.TemporaryDirectory() as place:
        roll(Path(place), setting, seed)
        if change is not None:
            for path in Path(place).glob("*.tif"):
                light = change(tifffile.imread(path).astype(np.float32) / 65535)
                tifffile.imwrite(path, (light * 65535).clip(0, 65535).astype(np.uint16), photometric="rgb")
        reading = read(Path(place), ReadOptions(gauge=setting.gauge, marks=False))
    return "sharpened" in {finding.id for finding in reading.findings}


def main(rolls: int, seed: int) -> None:
    """A row a treatment, a column a blur: rolls called sharpened."""
    print("| scans | " + " | ".join(f"smeared by {blur} px" for blur in BLURS) + " |")
    print("|---" * (1 + len(BLURS)) + "|")
    for what, change in TREATMENTS.items():
        row = []
        for blur in BLURS:
            settings = [Setting(list(SCALE)[n % 4], frames=3, fine=FINE, blur=blur, gate=n % 2 == 0, falloff=(0.08, 0.25)[n // 2 % 2]) for n in range(rolls)]  # fmt: skip
            row.append(sum(told(one, change, seed + n) for n, one in enumerate(settings)))
        print(f"| {what} | " + " | ".join(f"{n} of {rolls}" for n in row) + " |", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4, int(sys.argv[2]) if len(sys.argv) > 2 else 81_000)
