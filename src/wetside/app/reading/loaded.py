"""A roll while it is read: its frames at working size, and what was read of each file at full size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from wetside.app.reading.lengths import Sizes, frames_in, from_head
from wetside.app.reading.read_options import PatchAt, ReadOptions
from wetside.app.reading.scan_file import LINEAR, one_channel, scan_or_finding
from wetside.app.reading.standing import frame_at
from wetside.app.reading.strips_shown import strips_shown
from wetside.figures.abreast import abreast
from wetside.figures.finding import Finding, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.progress import Progress
from wetside.figures.reading import Flare
from wetside.figures.scan import Scan
from wetside.stages.negative.measured.patches import Spot, spot
from wetside.stages.negative.scanner.coding import exposures, inverted, neighbours, orientations
from wetside.stages.negative.scanner.flare import flare_said, flares
from wetside.stages.negative.scanner.noise import noise_blocks
from wetside.stages.negative.scanner.turned import Gradient
from wetside.stages.negative.scanner.veil_off import unveiled
from wetside.stages.negative.scanner.working import Light, Working, working
from wetside.store.scans.folder import FolderListing
from wetside.store.scans.parts import whole_name
from wetside.store.spool import Spool

#: Scans of a roll that are asked for the scanner's noise; more would not tell it better.
MOST_FOR_NOISE = 24
#: Frames of a roll that are asked whether they hold positives.
MOST_FOR_SIGN = 16


@dataclass
class Loaded:
    """The roll at working size, and what was read at full size while each file was in memory.

    `numbers`: each frame's on the film, counted from the head; a file that cannot be read counts as many as the one before
    it holds (`passed`).
    """

    frames: Spool[Working] = field(default_factory=Spool)
    scans: list[Scan] = field(default_factory=list)
    patches: dict[int, tuple[str, Spot]] = field(default_factory=dict)
    blocks: list[np.ndarray] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    noise: list[float | None] = field(default_factory=list)
    sizes: dict[str, tuple[int, int]] = field(default_factory=dict)
    flares: list[Flare | None] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    passed: int = 0
    lit: bool = False
    gradient: Gradient | None = None
    white: float = 65535.0

    def flare(self, index: int) -> Flare | None:
        """The stray light that was taken off a frame."""
        return self.flares[index] if self.flares else None

    def index_of(self, file: str) -> int | None:
        """The place among the frames of one's name."""
        return next((i for i, scan in enumerate(self.scans) if scan.file == file), None)

    def own_box(self, index: int, box: Rectangle) -> Rectangle:
        """A rectangle of a frame's file in pixels of the frame."""
        part = self.scans[index].part
        return box if part is None else part.in_part(box)


def loaded_files(
    files: FolderListing, options: ReadOptions, light: Light, open_gate: Scan | None, progress: Progress
) -> Loaded:
    """Every frame of a listing; Unusable when none can be read."""
    loaded, sizes, by_hand = Loaded(lit=open_gate is not None), Sizes(), strips_shown(files.folder)
    _refuse_unknown_patches(files, options.patches)
    listed = [
        (i, path) for i, path in enumerate(files.frames) if options.only is None or path.name in options.only
    ]
    in_last = 1
    scans = abreast(scan_or_finding, (path for _, path in listed), 2)
    for i, ((place, _), scan) in enumerate(zip(listed, scans)):
        if isinstance(scan, Finding):
            loaded.findings.append(scan)
            loaded.passed += in_last
        else:
            if open_gate is None and not loaded.frames and options.exposure_ratio is None:
                light = replace(light, exposure_s=scan.exposure_s)
            frames = list(frames_in(scan, sizes, by_hand.get(scan.file)))
            in_last = len(frames)
            loaded.findings.extend(frames[0].findings)
            for n in from_head([frame.part for frame in frames], options.from_right):
                _take(loaded, frames[n], light, place if options.only is not None else None)
            if scan.coding == "linear" and len(loaded.blocks) < MOST_FOR_NOISE:
                loaded.blocks.append(noise_blocks(scan, light.dark))
                loaded.white = scan.full_scale
            _spots(loaded, scan, frames, options, light, open_gate)
        progress("reading", i + 1, len(listed))
    if not loaded.frames:
        raise Unusable(
            f"{'the one frame cannot' if len(listed) == 1 else f'none of {len(listed)} frames can'} be read; {loaded.findings[0].say}; copy the files again, or scan again",
            str(files.folder),
        )
    for index, at in enumerate(options.patches):
        loaded.patches.setdefault(index, (at.file, Spot(None, None)))
    return loaded


def _refuse_unknown_patches(files: FolderListing, patches: Sequence[PatchAt]) -> None:
    names = [path.name for path in files.frames]
    for at in patches:
        if whole_name(at.file) not in names and at.file not in names:
            raise Unusable(
                f"--patch names {at.file!r}, which is not a frame here; frames: {', '.join(names[:4])} …",
                "--patch",
            )


def _take(loaded: Loaded, scan: Scan, light: Light, place: int | None) -> None:
    frame = working(scan, light)
    loaded.numbers.append(len(loaded.numbers) + loaded.passed + 1 if place is None else place + 1)
    loaded.frames.append(frame, frame.kept.nbytes + frame.mask.nbytes)
    loaded.scans.append(replace(scan, pixels=scan.pixels[:1, :1].copy()))  # a view would keep the whole frame
    loaded.sizes[scan.file] = scan.width, scan.height
    loaded.noise.append(neighbours(scan.pixels) if scan.coding == "linear" else None)


def _spots(
    loaded: Loaded,
    scan: Scan,
    frames: Sequence[Scan],
    options: ReadOptions,
    light: Light,
    open_gate: Scan | None,
) -> None:
    """Read the patches of one file, in pixels of the file, each under the name of the frame that it lies in."""
    for index, at in enumerate(options.patches):
        if scan.file not in (at.file, whole_name(at.file)):
            continue
        if scan.coding == "gamma":
            said = Finding(
                "patch-unreadable", "warning", at.file, "a gamma-coded file yields no density", source=LINEAR
            )
            loaded.findings.append(said)
            continue
        found = spot(scan, at.box, open_gate, light.dark, light.ratio(scan))
        loaded.patches[index] = frame_at(frames, at.box), found
        if found.reason:
            loaded.findings.append(
                Finding("patch-unreadable", "warning", at.file, found.reason, "", str(tuple(at.box)))
            )


def linear(loaded: Loaded) -> bool:
    """Whether the files carry a negative's densities, with a finding where linear files hold positives.

    Printing density is a negative's by definition, and without colours nothing shows whether a mask is there.
    """
    if any(scan.coding == "gamma" for scan in loaded.scans):
        return False
    if all(scan.coding == "log" for scan in loaded.scans) or all(map(one_channel, loaded.scans)):
        return True
    frames = loaded.frames
    said = inverted(frames[i].density for i in range(0, len(frames), -(-len(frames) // MOST_FOR_SIGN)))
    if said is not None:
        loaded.findings.append(said)
    return said is None


def lift(loaded: Loaded) -> None:
    """Take stray light off the frames and their patches, where an opaque holder shows it."""
    loaded.flares = found = flares(loaded.frames)
    if not any(found):
        return
    lifted = Spool[Working]()
    for frame, flare in zip(loaded.frames, found):
        lifted.append(unveiled(frame, flare), frame.kept.nbytes + frame.mask.nbytes)
    loaded.frames = lifted
    loaded.findings.extend(flare_said(found))


def said_of_files(loaded: Loaded) -> list[Finding]:
    """What was done to the files, as far as they show or tell it."""
    names = [scan.file for scan in loaded.scans]
    told = exposures(names, [scan.exposure_s for scan in loaded.scans])
    said = (told, orientations(names, [scan.orientation for scan in loaded.scans]))
    return [finding for finding in said if finding is not None]
