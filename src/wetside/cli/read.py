"""Read a folder of scans: base, densities, the picture's place, marks, cast, and where the marks repeat."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome, path
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable

TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any

    from wetside.app.reading.read import ReadOptions
    from wetside.figures.finding import Finding
    from wetside.figures.reading import RollReading
    from wetside.stages.causes.signs.repeats import ReelHint

GAUGE_NAMES = ("16still", "16cine", "110", "135")


def positive(text: str) -> float:
    """A number over zero."""
    value = float(text)
    if not 0 < value < 1e9:
        raise argparse.ArgumentTypeError(f"expected a number over zero, found {text}")
    return value


def stretch(text: str) -> tuple[int, int]:
    """First and last frame from FIRST-LAST, or one frame's number."""
    first, _, last = text.partition("-")
    if not first.isdigit() or not (last or first).isdigit():
        raise argparse.ArgumentTypeError(f"expected FIRST-LAST in frame numbers, found {text!r}")
    return int(first), int(last or first)


#: Options by what they tell, in the order of `--help`.
OPTIONS: dict[str, dict[str, dict[str, Any]]] = {
    "the light": {
        "--open-gate": {"type": path, "metavar": "FILE", "help": "a scan of the light without film"},
        "--exposure-ratio": {"type": positive, "metavar": "N", "help": "open gate's exposure over the scans'; default: as the files state it"},
        "--calibration": {"metavar": "NAME|FILE", "help": "give status M densities by this calibration of light and scanner"},
    },
    "the film and its scale": {
        "--gauge": {"choices": GAUGE_NAMES, "help": "supplies default pitches"},
        "--frame-pitch": {"type": positive, "metavar": "MM", "help": "from frame to frame"},
        "--perf-pitch": {"type": positive, "metavar": "MM", "help": "from perforation to perforation"},
        "--px-per-mm": {"type": positive, "metavar": "N", "help": "scale of the files"},
        "--first-frame-mm": {"type": float, "default": 0.0, "metavar": "MM", "help": "where frame 1 begins, from the head"},
    },
    "how the scans lie": {
        "--head": {"choices": ("left", "right"), "help": "which side of a scan lies towards the head; default: left, or as the book says of the roll"},
        "--perf": {"choices": ("top", "bottom", "both"), "help": "the perforated edge; default: top, or as the book says"},
        "--mirrored": {"action": "store_true", "help": "scanned with the emulsion down"},
    },
    "the reel that it was processed on": {
        "--reel-core-radius": {"type": positive, "metavar": "MM", "help": "where its first turn lies"},
        "--reel-pitch": {"type": positive, "metavar": "MM", "help": "from turn to turn"},
        "--reel-spread": {"type": positive, "default": 1.0, "metavar": "MM", "help": "how well both are known; default 1"},
        "--core": {"choices": ("head", "tail"), "default": "head", "help": "which end lay at the core"},
    },
    "what is read": {
        "--patch": {"action": "append", "default": [], "metavar": "FILE:x,y,w,h", "help": "read this rectangle; may be repeated"},
        "--in-full": {"action": "append", "default": [], "type": stretch, "metavar": "FIRST-LAST", "help": "of a sequence of over 200 frames, read these in full too; may be repeated"},
        "--full": {"action": "store_true", "help": "read every frame of a sequence in full"},
        "--keep": {"action": "store_true", "help": "lay the further folders' files with the roll's in the book, as lines"},
    },
}  # fmt: skip


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside read`."""
    parser.add_argument(
        "folder",
        type=path,
        nargs="+",
        metavar="FOLDER",
        help="scans of one roll, in natural name order, or a roll of the book; further folders follow",
    )
    for told, options in OPTIONS.items():
        group = parser.add_argument_group(told)
        for name, how in options.items():
            group.add_argument(name, **how)


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Read the folder."""
    from dataclasses import replace

    from wetside.app.reading.read import PatchAt, ReadOptions, read
    from wetside.app.reading.sequence import read_long
    from wetside.figures.place import Rectangle

    patches = tuple(PatchAt(file, Rectangle(*box)) for file, box in map(patch_at, args.patch))
    options = ReadOptions(
        open_gate=args.open_gate, exposure_ratio=args.exposure_ratio, gauge=args.gauge, frame_pitch=args.frame_pitch,
        perf_pitch=args.perf_pitch, px_per_mm=args.px_per_mm, first_frame_mm=args.first_frame_mm, reel=reel_of(args),
        head=args.head, perf=args.perf, mirrored=args.mirrored, patches=patches,
    )  # fmt: skip
    from wetside.app.faults.more_scans import folder_or_roll
    from wetside.store.scans.gather import gathered
    from wetside.store.settings import home

    folders = [folder_or_roll(home(), folder) for folder in args.folder]
    if args.keep:
        kept, folders = keep(folders), folders[:1]
    with gathered(folders) as (folder, found):
        reading = (
            by_calibration(folder, args.calibration, options, progress)
            if args.calibration is not None
            else read(folder, options, progress)
            if args.full
            else read_long(folder, options, args.in_full, progress)
        )
    found = [*found, *kept] if args.keep else found
    reading = replace(reading, findings=(*found, *reading.findings))
    from wetside.app.viewing.verdicts import verdicts_for
    from wetside.cli.tables import reading_table
    from wetside.stages.causes.signs.verdicts import with_verdicts

    said = verdicts_for(home(), folders[0])
    more = f"\n{len(said)} verdicts of the book on marks are honoured in --json" if said else ""
    return Outcome(with_verdicts(reading.as_json(), said), reading_table(reading) + more)


def keep(folders: list[Path]) -> list[Finding]:
    """Add further folders to the roll of the book that the first one is; what there is to say of it."""
    from wetside.app.faults.more_scans import add_scans
    from wetside.figures.finding import Finding
    from wetside.store.settings import home

    if folders[0].parent.resolve() != (home() / "scans").resolve() or len(folders) < 2:
        raise Unusable(
            "--keep expects a roll of the book and folders to add to it: wetside read ROLL FOLDER --keep",
            "--keep",
        )
    said = list[Finding]()
    for folder in folders[1:]:
        count, found = add_scans(home(), folders[0].name, folder)
        say = f"{count} files of {folder.name} were laid with the roll's and noted"
        said += [Finding("scans-added", "note", "roll", say), *found]
    return said


def by_calibration(folder: Path, named: str, options: ReadOptions, progress: Progress) -> RollReading:
    """The reading in status M, by the calibration named."""
    from wetside.app.sensitometry.calibrate import profile, read_in_status_m
    from wetside.store.settings import home

    return read_in_status_m(folder, options, profile(home(), named), progress)


def patch_at(text: str) -> tuple[str, tuple[int, int, int, int]]:
    """File and rectangle from FILE:x,y,w,h."""
    file, colon, numbers = text.rpartition(":")
    try:
        x, y, w, h = (int(part) for part in numbers.split(","))
    except ValueError:
        colon = ""
    if not colon or not file or w < 1 or h < 1 or x < 0 or y < 0:
        raise Unusable(f"--patch: expected FILE:x,y,w,h in whole pixels, found {text!r}", "--patch")
    return file, (x, y, w, h)


def reel_of(args: argparse.Namespace) -> ReelHint | None:
    """The reel, when both its figures were given; Unusable when only one was."""
    from wetside.stages.causes.signs.repeats import ReelHint

    if args.reel_core_radius is None and args.reel_pitch is None:
        return None
    if args.reel_core_radius is None or args.reel_pitch is None:
        raise Unusable("a reel needs both --reel-core-radius and --reel-pitch", "--reel")
    return ReelHint(args.reel_core_radius, args.reel_pitch, args.reel_spread, args.core)
