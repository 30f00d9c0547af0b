"""The measuring pass of a frame (its bases, cast, marks, what stays) against the pixel path of the same run, and done plainly.

What `read` does with each frame of a 2K roll once its film is known. The film model, which is the roll's, stands apart.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import tifffile

from benchmarks import plainly
from benchmarks.pixel_path import BASE, HEIGHT, TIMES, WIDTH, Row, cpu, gone_through, small_map, tone
from benchmarks.rolls import Setting, roll
from wetside.app.reading.film import film_found
from wetside.app.reading.laid import laid
from wetside.app.reading.lights import lights
from wetside.app.reading.loaded import Loaded, lift, loaded_files
from wetside.app.reading.read import Shared
from wetside.app.reading.read_options import ReadOptions
from wetside.figures.density import DensityFrame
from wetside.figures.progress import silent
from wetside.figures.reading import Geometry
from wetside.laws.image.layers import half_size
from wetside.stages.causes.signs.cast import CastField
from wetside.stages.causes.signs.chance import chance_of_marks
from wetside.stages.causes.signs.marks import marks_in_frame, window_of
from wetside.stages.causes.signs.stacked import Stack
from wetside.stages.negative.found.film import density_frame
from wetside.stages.negative.found.shown import FilmOfRoll
from wetside.stages.negative.scanner.working import light_of
from wetside.stages.positive.evening import EvenMap, shared_map
from wetside.stages.positive.path import Through
from wetside.stages.positive.transform import tone_group
from wetside.store.scans.folder import listing
from wetside.store.scans.originals import write_tiff16

FRAMES = 4


def scans(folder: Path) -> None:
    """Photographs on 135 film with an open gate, each scan cut to 2048 × 1556 round its middle."""
    roll(folder, Setting("135", frames=FRAMES, fine=54.2), 7)
    for file in folder.glob("*.tif"):
        pixels = tifffile.imread(file)
        top, left = (pixels.shape[0] - HEIGHT) // 2, (pixels.shape[1] - WIDTH) // 2
        write_tiff16(file, np.ascontiguousarray(pixels[top : top + HEIGHT, left : left + WIDTH]))


def read_so_far(folder: Path) -> Loaded:
    """The roll at working size."""
    found = listing(folder)
    gate, dark, _ = lights(found, None)
    loaded = loaded_files(found, ReadOptions(), light_of(gate, dark, None), gate, silent)
    lift(loaded)
    return loaded


def dense(loaded: Loaded, film: FilmOfRoll, lengths: Geometry, index: int) -> DensityFrame:
    """One frame's density frame."""
    levels = film.levels_of(index)
    return density_frame(
        loaded.frames[index], film.frames[index], levels, index + 1, lengths.px_per_mm, film.surface
    )


def passed(loaded: Loaded, film: FilmOfRoll, lengths: Geometry) -> Shared:
    """All frames' measuring passes."""
    shared = Shared(CastField(True), 1, Stack(lengths.perf_pitch_mm))
    for index in range(FRAMES):
        frame = dense(loaded, film, lengths, index)
        marks_in_frame(frame)
        shared.add(frame, None)
        shared.stack.add(frame)
    return shared


def pictured(frame: DensityFrame) -> np.ndarray:
    """The part of a frame that marks are looked for in."""
    return np.ascontiguousarray(frame.density[window_of(frame).slices])


def apart(loaded: Loaded, film: FilmOfRoll, lengths: Geometry) -> tuple[float, float, float]:
    """How far the pass and the plain one differ over one frame: densities at the most [D], log-odds and added density [D] in the mean."""
    frame, own = dense(loaded, film, lengths, 0), passed(loaded, film, lengths)
    levels = film.levels_of(0)
    assert levels is not None
    plain, chance = (
        plainly.found(frame, film.frames[0], levels, pictured(frame)),
        chance_of_marks(half_size(pictured(frame))),
    )
    densities = [*(np.subtract(plain.sides[side], frame.sides[side]) for side in plain.sides),
                 plain.grid - own.cast.grids[0], plain.picture - own.stack.pictures[0]]  # fmt: skip
    odds, added = np.abs(plain.odds - chance.odds).mean(), np.abs(plain.added - chance.added()).mean()
    return largest(densities), float(odds), float(added)


def largest(differences: Sequence[np.ndarray]) -> float:
    """The largest absolute value of some arrays; places of no picture are left out."""
    return float(max(np.nanmax(np.abs(one)) for one in differences))


def rows() -> list[Row]:
    """Measured ratios beside their goals."""
    cv2.setNumThreads(1)
    codes = (10 ** -np.random.default_rng(1).uniform(0.3, 2.2, (HEIGHT, WIDTH, 3)) * 65535).astype(np.uint16)
    even = EvenMap(small_map(), None, 1 / 65535, HEIGHT, WIDTH, shared_map(small_map(), HEIGHT, WIDTH))
    through = Through(tone_group(tone(), BASE, "ACEScg"), "u16")
    with tempfile.TemporaryDirectory() as place:
        scans(Path(place) / "roll")
        loaded = read_so_far(Path(place) / "roll")
    model = cpu(lambda: film_found(loaded, ReadOptions()), 3) / FRAMES
    film = film_found(loaded, ReadOptions())
    lengths = laid(loaded, film, ReadOptions()).lengths
    frame, levels = dense(loaded, film, lengths, 0), film.levels_of(0)
    assert levels is not None
    # In turns, so that what others do to the machine meanwhile falls on all of them alike.
    ways = (lambda: gone_through(codes, even, through), lambda: passed(loaded, film, lengths))
    path, own = (min(times) for times in zip(*([cpu(way, 1) for way in ways] for _ in range(TIMES))))
    plain = cpu(lambda: plainly.found(frame, film.frames[0], levels, pictured(frame)), 1)
    own /= FRAMES
    density, odds, added = apart(loaded, film, lengths)
    return [
        ("measuring pass of a 2K frame against the pixel path, CPU", f"{own / path:.1f}×", "≤ 3×"),
        ("the same against it done plainly (outlines left out there), CPU", f"{plain / own:.0f}×", "≥ 20×"),
        ("measuring pass, and a frame's part of the film model, CPU", f"{own * 1e3:.0f} ms, {model * 1e3:.0f} ms", "none"),
        ("plain answers against the pass's: densities at the most, log-odds and density added in the mean", f"{density:.4f} D, {odds:.3f}, {added:.4f} D", "none"),
    ]  # fmt: skip


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
