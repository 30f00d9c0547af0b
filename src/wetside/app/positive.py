"""Print a roll: one evenness map a frame, one transform for the roll, pictures out, and all that reproduces them."""

from __future__ import annotations

import json
import resource
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from wetside import __version__
from wetside.app.read import ReadOptions, lights, read
from wetside.figures.curves import Curves
from wetside.figures.finding import Finding, Unusable
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import RollReading
from wetside.figures.scan import Scan
from wetside.laws.image.evenness import full_size, light_factor, stain_factor
from wetside.stages.negative.working import light_of, working
from wetside.stages.positive.fit import ToneFit, fitted_tone, own_tone
from wetside.stages.positive.transform import cdl_text, clf_text, exchange_group, processor_of, tone_group
from wetside.store.scans.folder import FolderListing, listing
from wetside.store.scans.load import load
from wetside.store.scans.sinks import SUFFIX, refuse_existing, write_picture, write_text

STRIP = 64
DEFAULT_SPACE = {"tiff": "sRGB", "jpeg": "sRGB", "exr": "ACES2065-1", "dpx": "ADX10"}
ALLOWED = {"tiff": ("sRGB",), "jpeg": ("sRGB",), "exr": ("ACES2065-1", "ACEScg"), "dpx": ("ADX10",)}


@dataclass(frozen=True)
class PositiveOptions:
    """How to print. `space` None takes the kind's usual one; `curves` are needed by the own door."""

    out: Path
    door: str = "fitted"
    even: bool = False
    kind: str = "tiff"
    space: str | None = None
    negative: bool = False
    workers: int = 1
    open_gate: Path | None = None
    overwrite: bool = False
    curves: Curves | None = None


@dataclass(frozen=True)
class Printing:
    """What every frame of the roll is printed with."""

    options: PositiveOptions
    space: str
    base: tuple[float, float, float]
    group: Any
    light: np.ndarray | None
    light_level: np.ndarray
    profile: tuple[np.ndarray, np.ndarray] | None
    boxes: dict[str, tuple[int, int, int, int]]


def positive(folder: Path, options: PositiveOptions, progress: Progress = silent) -> dict[str, Any]:
    """One picture a frame, `positive.clf`, a CDL a frame, `positive.json`; the `wetside.positive/1` object."""
    began = time.perf_counter()
    files = listing(folder)
    space = _space(options)
    refuse_existing(_outputs(files, options), options.overwrite)
    reading = read(folder, ReadOptions(open_gate=options.open_gate, marks=False), progress)
    printing, tone = _printing(files, reading, options, space)
    frames, findings = _printed(files, printing, progress)
    if not frames:
        raise Unusable(f"none of {len(files.frames)} frames could be printed: {findings[0].say}", str(folder))
    _beside_pictures(files, printing, reading, tone)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    return {
        "schema": "wetside.positive/1", "frames": frames, "seconds": time.perf_counter() - began, "peak_bytes": peak,
        "door": options.door, "base": reading.base.as_json() if reading.base else None,
        "evenness": _evenness(printing, reading, options), "space": space, "say": tone.say if tone else "Academy density exchange",
        "findings": [f.as_json() for f in (*reading.findings, *findings)],
    }  # fmt: skip


def _space(options: PositiveOptions) -> str:
    space = options.space or DEFAULT_SPACE[options.kind]
    if space not in ALLOWED[options.kind]:
        raise Unusable(f"--space {space}: {options.kind} takes {', '.join(ALLOWED[options.kind])}", "--space")
    return space


def _outputs(files: FolderListing, options: PositiveOptions) -> Iterator[Path]:
    """Every file that will be written."""
    stems = [path.stem for path in files.frames]
    twice = next((stem for i, stem in enumerate(stems) if stem in stems[:i]), None)
    if twice is not None:
        raise Unusable(
            f"two frames share the stem {twice!r}, so their pictures would share a name", str(files.folder)
        )
    for path in files.frames:
        yield options.out / (path.stem + SUFFIX[options.kind])
        yield options.out / f"{path.stem}.cdl"
        if options.negative:
            yield options.out / f"{path.stem}.negative.tif"
    yield options.out / "positive.clf"
    yield options.out / "positive.json"


def _printing(
    files: FolderListing, reading: RollReading, options: PositiveOptions, space: str
) -> tuple[Printing, ToneFit | None]:
    if reading.rung == 0:
        raise Unusable(
            "these files are gamma-coded: no positive can be printed from them; scan linear, 16 bits",
            str(files.folder),
        )
    open_gate, dark, _ = lights(files, options.open_gate)
    light = light_of(open_gate, dark)
    factor = None if light.field is None else light_factor(light.field)
    level = np.ones(3) if light.field is None else light.field.reshape(-1, 3).mean(axis=0) / 65535.0
    base = tuple(reading.base.density) if reading.base else _thinnest(files, light)
    tone = None
    if options.door != "exchange":
        above = _sampled(files, reading, light, np.array(base))
        tone = (
            own_tone(options.curves, above)
            if options.door == "own" and options.curves
            else fitted_tone(above)
        )
    if options.door == "own" and options.curves is None:
        raise Unusable(
            "the own door needs this stock's curves: `wetside stock FOLDER` with a stock.json beside the scans",
            "--door",
        )
    to = "ACES2065-1" if space == "ADX10" else space
    group = tone_group(tone, base, to) if tone else exchange_group(base, to)  # type: ignore[arg-type]
    profile = _profile(reading) if options.even else None
    boxes = {frame.file: tuple(frame.picture) for frame in reading.frames}
    return Printing(options, space, base, group, factor, level, profile, boxes), tone  # type: ignore[arg-type]


def _thinnest(files: FolderListing, light: Any) -> tuple[float, float, float]:
    """Without a rebate: the thinnest densities of the roll stand in for the base, and are said to."""
    lows = [
        np.percentile(working(load(path), light).density.reshape(-1, 3), 0.5, axis=0)
        for path in files.frames[:8]
    ]
    return tuple(float(v) for v in np.min(lows, axis=0))  # type: ignore[return-value]


def _sampled(files: FolderListing, reading: RollReading, light: Any, base: np.ndarray) -> np.ndarray:
    """Densities above base of the roll's pictures, at most 24 frames, thinned."""
    step = max(1, len(files.frames) // 24)
    names = {path.name: path for path in files.frames}
    parts = []
    for frame in reading.frames[::step]:
        small = working(load(names[frame.file]), light)
        x, y, w, h = (int(v / small.shrink) for v in frame.picture)
        inner = small.density[y + h // 30 : y + h - h // 30 : 4, x + w // 30 : x + w - w // 30 : 4]
        parts.append(inner.reshape(-1, 3) - base)
    return np.concatenate(parts)


def _profile(reading: RollReading) -> tuple[np.ndarray, np.ndarray] | None:
    """The additive cast's profile, where there is one that may be taken out."""
    cast = reading.cast
    if not cast.found or cast.kind not in ("additive", "light") or not cast.profile:
        return None
    return np.array([p.across for p in cast.profile]), np.array([tuple(p.density) for p in cast.profile])


def _printed(
    files: FolderListing, printing: Printing, progress: Progress
) -> tuple[list[dict[str, Any]], list[Finding]]:
    """Print every frame; one that fails is named and the rest is done."""
    done: list[dict[str, Any]] = []
    findings: list[Finding] = []

    def one(path: Path) -> dict[str, Any] | Finding:
        try:
            return print_frame(path, printing)
        except Unusable as slip:
            return Finding("frame-not-printed", "error", path.name, slip.what)

    with ThreadPoolExecutor(max(1, printing.options.workers)) as pool:
        for i, found in enumerate(pool.map(one, files.frames)):
            if isinstance(found, Finding):
                findings.append(found)
            else:
                done.append(found)
            progress("printing", i + 1, len(files.frames))
    return done, findings


def print_frame(path: Path, printing: Printing) -> dict[str, Any]:
    """One frame: evened, transformed in strips, written; also its CDL and, when asked, its evened negative."""
    began = time.perf_counter()
    options = printing.options
    scan = load(path, half=False)
    even = evened(scan, printing)
    out = options.out / (path.stem + SUFFIX[options.kind])
    if options.negative:
        write_picture(options.out / f"{path.stem}.negative.tif", even, "tiff", "transmittance")
    # The picture is made from the same 16-bit codes that the evened negative holds.
    picture = (even * np.float32(65535) + np.float32(0.5)).clip(0, 65535).astype(np.uint16).astype(
        np.float32
    ) / np.float32(65535)
    processor = processor_of(printing.group)
    for top in range(0, picture.shape[0], STRIP):
        strip = np.ascontiguousarray(picture[top : top + STRIP])
        processor.applyRGB(strip)
        picture[top : top + STRIP] = strip
    if printing.space == "ADX10":
        picture = adx10_codes(picture)
    write_picture(out, picture, options.kind, printing.space)
    write_text(options.out / f"{path.stem}.cdl", cdl_text(path.stem))
    return {"file": path.name, "picture": str(out), "seconds": time.perf_counter() - began}


def adx10_codes(aces: np.ndarray) -> np.ndarray:
    """ADX10 code values 0–1 of ACES2065-1 pixels, by OpenColorIO's built-in transform."""
    import PyOpenColorIO as ocio

    group = ocio.GroupTransform()
    group.appendTransform(ocio.BuiltinTransform("ADX10_to_ACES2065-1", ocio.TRANSFORM_DIR_INVERSE))
    pixels = np.ascontiguousarray(aces)
    processor_of(group).applyRGB(pixels)
    return np.clip(pixels, 0, 1)


def evened(scan: Scan, printing: Printing) -> np.ndarray:
    """The scan as transmittance 0–1 (h, w, 3) float32, with the light and, when asked, the additive cast taken out."""
    even = scan.pixels.astype(np.float32) * np.float32(1 / scan.full_scale)
    if printing.light is not None:
        even *= full_size(printing.light, scan.height, scan.width)
        even /= printing.light_level.astype(np.float32)
    if printing.profile is not None:
        x, y, w, h = printing.boxes[scan.file]
        rows = (np.arange(scan.height) * scan.shrink + 0.5 - y) / max(1, h)
        even *= stain_factor(*printing.profile, rows)
    return even


def _beside_pictures(
    files: FolderListing, printing: Printing, reading: RollReading, tone: ToneFit | None
) -> None:
    options = printing.options
    write_text(options.out / "positive.clf", clf_text(printing.group))
    about = {
        "schema": "wetside.positive-sheet/1",
        "input": "evened negative: transmittance 0–1, code / 65535 in 16-bit TIFF",
        "order": "STEM.cdl (slope on transmittance = printer-light trim in density), then positive.clf",
        "output": "ACES2065-1 (then ADX10)" if printing.space == "ADX10" else printing.space,
        "base": dict(zip("rgb", printing.base)), "door": options.door,
        "gradients": dict(zip("rgb", tone.gradients)) if tone else None, "assumed": tone.assumed if tone else False,
        "say": tone.say if tone else "Academy density exchange; the scan's densities are taken as calibrated",
        "map": _evenness(printing, reading, options), "pictures": {name: list(box) for name, box in printing.boxes.items()},
        "versions": {"wetside": __version__},
    }  # fmt: skip
    write_text(options.out / "positive.json", json.dumps(about, indent=2, ensure_ascii=False) + "\n")


def _evenness(printing: Printing, reading: RollReading, options: PositiveOptions) -> dict[str, Any]:
    cast = reading.cast
    label = ""
    if cast.found and cast.kind == "with density":
        label = "mid-tones only: the cast grows with density and no additive map can undo it"
    return {
        "light": printing.light is not None, "cast": printing.profile is not None,
        "remains": cast.remains if cast.found else None, "label": label,
        "say": "the open gate's unevenness is taken out" if printing.light is not None else "no open gate: the light's unevenness stays",
    }  # fmt: skip
