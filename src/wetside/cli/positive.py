"""Print a folder of scans as consistent positives, with the transform that makes them written beside."""

from __future__ import annotations

import argparse
import re

from wetside.cli.calling import Outcome, path
from wetside.cli.tables import findings_lines
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable

TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path
    from typing import Any

    from wetside.app.printing.positive import Crew, PositiveOptions
    from wetside.figures.curves import Curves
    from wetside.figures.place import Rectangle
    from wetside.stages.negative.measured.calibration import Profile


def correction(text: str) -> str:
    """The name of a correction that can be left."""
    if text not in ("light", "flare", "drift", "level") and not re.fullmatch(r"stain-[1-9][0-9]{0,4}", text):
        raise argparse.ArgumentTypeError(
            f"expected light, flare, drift, level or stain-NUMBER, found {text[:40]}"
        )
    return text


def mark(text: str) -> tuple[str, tuple[int, int, int, int]]:
    """A file and a rectangle of it [px]."""
    found = re.fullmatch(r"(.+):(\d{1,6}),(\d{1,6}),(\d{1,6}),(\d{1,6})", text)
    if found is None or int(found[4]) < 4 or int(found[5]) < 4:
        raise argparse.ArgumentTypeError(
            f"expected FILE:x,y,w,h in whole pixels, 4 × 4 at least, found {text[:80]}"
        )
    x, y, w, h = (int(found[i]) for i in range(2, 6))
    return found[1], (x, y, w, h)


def workers(text: str) -> int:
    """A whole number from 1 to 64."""
    if not text.isdigit() or not 1 <= int(text) <= 64:
        raise argparse.ArgumentTypeError(f"expected a whole number from 1 to 64, found {text}")
    return int(text)


def rate(text: str) -> float:
    """Frames a second, from 1 to 120."""
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 1 <= value <= 120:
        raise argparse.ArgumentTypeError(f"expected frames a second from 1 to 120, found {text}")
    return value


#: Options as the library of arguments takes them, in the order of the help; of `WHO` at most one.
OPTIONS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("--out", {"type": path, "required": True, "metavar": "DIR"}),
    ("--open-gate", {"type": path, "metavar": "FILE", "help": "a scan of the light without film"}),
    ("--door", {"choices": ("own", "fitted", "exchange"), "default": "fitted", "help": "whose curves: the stock's own, fitted to greys or to the roll, or the Academy's density exchange"}),
    ("--even", {"action": "store_true", "help": "take the additive cast out as well as the light"}),
    ("--mid-tones", {"action": "store_true", "help": "take out a cast that grows with density, right in the mid-tones alone"}),
    ("--leave", {"action": "append", "type": correction, "default": [], "metavar": "NAME", "help": "do not make this correction: light, flare, drift, level, or a stain by its number (stain-2)"}),
    ("--soften-stains", {"action": "store_true", "help": "take off every mark that shows itself to be an additive stain"}),
    ("--soften", {"action": "append", "type": mark, "default": [], "metavar": "FILE:x,y,w,h", "help": "take off this mark, where it is one"}),
    ("--grey", {"action": "append", "type": mark, "default": [], "metavar": "FILE:x,y,w,h", "help": "a place that was neutral, for the fitted door: two of different brightness, or every step of a grey scale"}),
    ("--calibration", {"metavar": "NAME|FILE", "help": "take the dyes apart by this calibration of light and scanner, before the layers' curves"}),
    ("--as", {"dest": "kind", "choices": ("tiff", "exr", "dpx", "jpeg"), "default": "tiff", "help": "16-bit TIFF, half-float EXR, 10-bit DPX or JPEG"}),
    ("--space", {"metavar": "NAME", "help": "sRGB, ACES2065-1, ACEScg or ADX10, as the kind allows"}),
    ("--negative", {"nargs": "?", "const": "tiff", "choices": ("tiff", "dpx"), "help": "write the evened negatives too: 16-bit TIFF, or 10-bit log DPX"}),
    ("--sequence", {"metavar": "NAME", "help": "a moving roll: call the pictures NAME.0000001 and on, without a gap"}),
    ("--film", {"type": rate, "nargs": "?", "const": 24.0, "metavar": "FPS", "help": "also a small film for looking at (24)"}),
    ("--picture-alone", {"action": "store_true", "help": "cut every frame to its picture, all of one size, and leave the rebate out"}),
    ("--overwrite", {"action": "store_true", "help": "replace files that are there and are not this command's own"}),
    ("--plain", {"action": "store_true", "help": "leave out the trims, the balance and the greys that the book has for this roll"}),
)  # fmt: skip
WHO: tuple[tuple[str, dict[str, Any]], ...] = (
    ("--workers", {"type": workers, "default": 2, "metavar": "N", "help": "frames printed side by side (2)"}),
    ("--cluster", {"metavar": "ADDRESS", "help": "a dask.distributed scheduler"}),
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside positive`."""
    parser.add_argument("folder", type=path, metavar="FOLDER")
    for name, how in OPTIONS:
        parser.add_argument(name, **how)
    one_of = parser.add_mutually_exclusive_group()
    for name, how in WHO:
        one_of.add_argument(name, **how)


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Print the roll."""
    from wetside.app.printing.positive import positive

    options = options_of(args)
    found = positive(args.folder, options, progress)
    lines = [
        *roll_lines(found, args.out),
        *book_lines(options, named=not args.grey),
        found["consistency"]["say"],
    ]
    if found["kept"]:
        lines.insert(1, f"{found['kept']} of them were finished before and unchanged")
    return Outcome(found, "\n".join([*lines, *findings_lines(said_once(found["findings"]))]))


def said_once(findings: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Findings but for those that say of a frame what one before has said: what cannot be read cannot be printed."""
    first: dict[tuple[str, str], dict[str, Any]] = {}
    for one in findings:
        first.setdefault((one["where"], one["say"]), one)
    return list(first.values())


def options_of(args: argparse.Namespace) -> PositiveOptions:
    """What is asked for, and what the book has for the roll unless it is to be left out."""
    from wetside.app.printing.positive import PositiveOptions
    from wetside.figures.place import Rectangle
    from wetside.store.settings import home

    greys = tuple((file, Rectangle(*box)) for file, box in args.grey)
    if greys and args.door != "fitted":
        raise Unusable(f"--grey is for the fitted door; found --door {args.door}", "--grey")
    if not (greys or args.plain or args.door != "fitted"):
        greys = greys_of_book(args.folder)
    soften: dict[str, list[Rectangle]] = {}
    for file, box in args.soften:
        soften.setdefault(file, []).append(Rectangle(*box))
    trims, balance, notes = of_book(args.folder)
    by = calibration_of(args)
    return PositiveOptions(
        args.out,
        args.door,
        args.even,
        args.kind,
        args.space,
        args.negative,
        args.workers,
        args.open_gate,
        args.overwrite,
        curves_of(args, by),
        trims={} if args.plain else trims,
        balance=(0.0, 0.0, 0.0) if args.plain else balance,
        notes=notes,
        sequence=args.sequence,
        film=args.film,
        crew=crew_of(args),
        mid_tones=args.mid_tones,
        leave=tuple(args.leave),
        soften_stains=args.soften_stains,
        soften=soften,
        home=home(),
        greys=greys,
        by=by,
        alone=args.picture_alone,
    )


def calibration_of(args: argparse.Namespace) -> Profile | None:
    """The calibration that was named."""
    if args.calibration is None:
        return None
    from wetside.app.sensitometry.calibrate import AIMS, profile
    from wetside.store.settings import home

    return profile(home(), args.calibration, AIMS)


def curves_of(args: argparse.Namespace, by: Profile | None) -> Curves | None:
    """The stock's curves, for the own door, in the calibration's densities."""
    if args.door != "own":
        return None
    from wetside.app.sensitometry.stock import curves_of_folder

    return curves_of_folder(args.folder, None if by is None else by.fit.matrix)


def crew_of(args: argparse.Namespace) -> Crew | None:
    """Workers of a cluster, where one was named."""
    if not args.cluster:
        return None
    from wetside.app.printing.cluster import Cluster

    return Cluster(args.cluster)


def roll_lines(found: dict[str, Any], out: Path) -> list[str]:
    """What was printed, by which door, and what was taken out."""
    even, calibration = found["evenness"], found["calibration"]
    lines = [f"{len(found['frames'])} pictures in {out}, door {found['door']}: {found['say']}", even["say"]]
    lines += [f"calibration {calibration['say']}"] if calibration else []
    lines += [even["label"]] if even["label"] else []
    return lines + [
        f"{'taken out' if one['made'] else 'left in'}: {one['say']}"
        for one in found["corrections"]
        if one["id"] != "light"
    ]


def book_lines(options: PositiveOptions, named: bool) -> list[str]:
    """What of the book went in: lights, and greys where the command `named` none itself."""
    lines = []
    if options.trims or any(options.balance):
        all_ = "  ".join(f"{value:+.3f}" for value in options.balance)
        frames = f"{len(options.trims)} {'frame' if len(options.trims) == 1 else 'frames'}"
        lines.append(f"lights of the book: {frames} trimmed, balance r g b {all_} D")
    if named and options.greys:
        lines.append(f"greys of the book: {len(options.greys)}; --plain leaves them out, --grey names others")
    return lines


def greys_of_book(folder: Path) -> tuple[tuple[str, Rectangle], ...]:
    """Greys that were named in the print room for the roll of this folder's name, as far as their frames are there."""
    from wetside.app.printing.grey_lines import greys_of
    from wetside.app.reading.lengths import roll_files
    from wetside.store.settings import home

    greys = greys_of(home(), folder.resolve().name)
    there = {path.name for path in roll_files(folder).frames} if greys else set()
    return greys if all(file in there for file, _ in greys) else ()


def of_book(folder: Path) -> tuple[dict[str, Any], tuple[float, float, float], dict[str, Any]]:
    """Trims, balance and notes that the book has for the roll of this folder's name."""
    from wetside.app.printing.print_room import notes_of
    from wetside.app.printing.trims import trims_of
    from wetside.store.settings import home

    roll = folder.resolve().name
    trims, balance = trims_of(home(), roll)
    there = {path.name for path in folder.iterdir()} if folder.is_dir() else set()
    return {file: trim for file, trim in trims.items() if file in there}, balance, notes_of(home(), roll)
