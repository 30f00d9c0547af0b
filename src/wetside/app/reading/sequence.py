"""Movie sequences: some frames are read in full, every other one for its exposure and its base, and the answer says which.

What a sequence shares (base, rectangle, pitch, cast, light) is told by a few frames spread along it. Of every other frame
the file is decoded and hashed, and its rebate measured where the read frames have theirs: an exposure that moved, a frame
of another film or size and a damaged file are found wherever they lie; marks are looked for in the full readings alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median

import numpy as np

from wetside.app.reading.lights import lights
from wetside.app.reading.read import ReadOptions, read
from wetside.app.reading.scan_file import scan_or_finding
from wetside.figures.abreast import abreast
from wetside.figures.channels import RGB, rgb
from wetside.figures.finding import Finding, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import FrameReading, Pattern, RollReading
from wetside.stages.negative.found.base import flat, near_base
from wetside.stages.negative.scanner.working import Light, light_of, working
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load

#: More frames than this are a sequence; as many as `IN_FULL` of it are read in full, spread along it.
LONG, IN_FULL = 200, 24
#: Longer side [pixels] at which the other frames are looked at, and how many of those read show where the rebate lies.
SMALL, SHOWN_BY = 400, 8
FEWEST = 40
#: A base further than this [D] from the roll's has moved; of another film, when its hue did by as much as `HUE`.
MOVED, HUE = 0.02, 0.045
FULL_READING = "wetside read FOLDER --full, or --in-full FIRST-LAST for a stretch of it"


@dataclass(frozen=True)
class Rebate:
    """Where the frames of a sequence show their base: a mask (h, w) at small size, and the level there (n, 3) [D]."""

    where: np.ndarray
    level: np.ndarray


def read_long(
    folder: Path,
    options: ReadOptions | None = None,
    stretches: Sequence[tuple[int, int]] = (),
    progress: Progress = silent,
) -> RollReading:
    """A folder read as `read` does up to 200 frames; of more, some in full with those of the stretches (first, last)."""
    options = options or ReadOptions()
    files = listing(folder).frames
    if len(files) <= LONG:
        return read(folder, options, progress)
    chosen = in_full(len(files), stretches)
    known = {one.file for one in (*options.patches, *options.picture_at)} | {
        getattr(options.base_at, "file", "")
    }
    names = {path.name for i, path in enumerate(files) if i in chosen or path.name in known}
    core = read(folder, replace(options, only=frozenset(names)), progress)
    if any(frame.part and frame.part.by != "tag" for frame in core.frames):
        return read(folder, options, progress)
    open_gate, dark, _ = lights(listing(folder), options.open_gate)
    light = light_of(open_gate, dark, options.exposure_ratio)
    return _with_others(core, [path for path in files if path.name not in names], files, light, progress)


def in_full(count: int, stretches: Sequence[tuple[int, int]] = ()) -> set[int]:
    """Indices of the frames that are read in full: 24 spread from the first to the last, and the stretches (from 1)."""
    found = {round(i) for i in np.linspace(0, count - 1, min(count, IN_FULL))}
    for first, last in stretches:
        if not 1 <= first <= last <= count:
            raise Unusable(
                f"frames {first} to {last} of {count} cannot be read in full; expected FIRST-LAST",
                "--in-full",
            )
        found |= set(range(first - 1, last))
    return found


def _with_others(
    core: RollReading, others: Sequence[Path], files: Sequence[Path], light: Light, progress: Progress
) -> RollReading:
    if light.exposure_s is None and core.frames:
        light = replace(light, exposure_s=core.frames[0].exposure_s)
    rebate = rebate_of([path for path in files if path.name in {f.file for f in core.frames}], core, light)
    picture = Rectangle(*(int(v) for v in np.median([f.picture for f in core.frames], axis=0)))
    place = {path.name: number for number, path in enumerate(files, 1)}
    found, slips, moved = dict[str, FrameReading](), list[Finding](), dict[str, np.ndarray]()
    for i, (path, one) in enumerate(zip(others, abreast(lambda p: _glance(p, rebate, light), others)), 1):
        if isinstance(one, Finding):
            slips.append(one)
        else:
            base, sha, exposure = one
            own = _reading(path, picture, base, sha, exposure, core)
            found[path.name] = replace(own, number=place[path.name])
            if base is not None and core.base is not None:
                moved[path.name] = np.array(base) - np.array(core.base.density)
        progress("the other frames", i, len(others))
    full = {frame.file: frame for frame in core.frames}
    every = {**found, **full}
    frames = tuple(every[path.name] for path in files if path.name in every)
    said = (_sampled(core, files), *_moves(moved), *slips)
    return replace(core, frames=frames, pattern=_pattern(core, len(files)), findings=(*core.findings, *said))


def rebate_of(files: Sequence[Path], core: RollReading, light: Light) -> Rebate | None:
    """Where at most eight of the read frames agree on their base; None where they show none."""
    if core.base is None:
        return None
    own = {frame.file: frame.shift for frame in core.frames}
    seen = []
    for path in files[:: max(1, -(-len(files) // SHOWN_BY))]:
        seen.append(working(load(path, hashed=False), light, SMALL).density - np.float32(own[path.name]))
    sizes = {one.shape for one in seen}
    if len(sizes) > 1 or not seen:
        return None
    middle = np.median(np.stack(seen), axis=0)
    scatter = np.median(np.abs(np.stack(seen) - middle), axis=0).max(axis=2)
    even, _ = flat(middle.astype(np.float32))
    where = even & near_base(middle, np.array([core.base.density]), 0.06) & (scatter < 0.02)
    return Rebate(where, middle[where]) if int(where.sum()) >= FEWEST else None


def _glance(
    path: Path, rebate: Rebate | None, light: Light
) -> tuple[RGB | None, str, float | None] | Finding:
    """A frame's base by the rebate that its sequence shows, its hash and its told exposure; what is wrong with its file."""
    scan = scan_or_finding(path)
    if isinstance(scan, Finding):
        return scan
    if rebate is None or scan.coding == "gamma":
        return None, scan.sha256, scan.exposure_s
    density = working(scan, light, SMALL).density
    if density.shape[:2] != rebate.where.shape:
        return Finding("another-size", "warning", path.name, "another size than the sequence's: it was not measured",
                       "files of one size", f"{scan.width} × {scan.height}", "a folder for each size")  # fmt: skip
    return base_where(density, rebate), scan.sha256, scan.exposure_s


def base_where(density: np.ndarray, rebate: Rebate) -> RGB | None:
    """A frame's base [D] by the median of what its rebate lies away from the sequence's; None where half of it is not alike."""
    away = density[rebate.where] - rebate.level
    middle = np.median(away, axis=0)
    if (np.abs(away - middle).max(axis=1) < 0.05).mean() < 0.5:
        return None
    return rgb(np.median(rebate.level, axis=0) + middle)


def _reading(
    path: Path, picture: Rectangle, base: RGB | None, sha: str, exposure: float | None, core: RollReading
) -> FrameReading:
    shift = float(np.mean(np.subtract(base, core.base.density))) if base and core.base else 0.0
    moved = shift if abs(shift) > MOVED else 0.0
    skew = median(frame.skew or 0.0 for frame in core.frames) or None
    return FrameReading(
        path.name, picture, base=base, shift=moved, sha256=sha, exposure_s=exposure, in_full=False, skew=skew
    )


def _sampled(core: RollReading, files: Sequence[Path]) -> Finding:
    return Finding(
        "sequence-sampled", "note", "roll",
        f"{len(core.frames)} of {len(files)} frames were read in full; of the others exposure and base",
        "", f"{core.frames[0].file} … {core.frames[-1].file}", FULL_READING,
    )  # fmt: skip


def _moves(moved: dict[str, np.ndarray]) -> list[Finding]:
    """What the other frames' bases tell: exposures that moved, and frames of another hue."""
    hue = {name: float(np.abs(away - away.mean()).max()) for name, away in moved.items()}
    other = [name for name, value in hue.items() if value > HUE]
    level = {name: float(away.mean()) for name, away in moved.items() if name not in other}
    off = {name: value for name, value in level.items() if abs(value) > MOVED}
    said = []
    if off:
        worst = max(off, key=lambda name: abs(off[name]))
        said.append(Finding("exposure-moves", "warning", "roll", f"the base lies elsewhere than the sequence's in {len(off)} of its frames: {_some(list(off))}",
                            f"within {MOVED} D", f"{off[worst]:+.2f} D at {worst}", "lock the scanner's exposure"))  # fmt: skip
    if other:
        said.append(Finding("base-of-another-hue", "warning", "roll", f"the base of {len(other)} frames has another hue: {_some(other)}; another film, or fogged?",
                            "one film a folder", f"up to {max(hue[name] for name in other):.2f} D apart", FULL_READING))  # fmt: skip
    return said


def _some(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= 3 else f"{names[0]}, {names[1]} … {names[-1]}"


def _pattern(core: RollReading, count: int) -> Pattern:
    """Marks of a few frames do not tell where they repeat along a sequence."""
    if core.pattern.marks == 0:
        return core.pattern
    reason = f"marks were looked for in {len(core.frames)} of {count} frames"
    return Pattern("cannot say", core.pattern.marks, None, reason, FULL_READING)
