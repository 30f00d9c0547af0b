"""Print a folder of scans as consistent positives, with the transform that makes them written beside."""

from __future__ import annotations

import argparse
from pathlib import Path

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside positive`."""
    parser.add_argument("folder", type=Path, metavar="FOLDER")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR")
    parser.add_argument("--open-gate", type=Path, metavar="FILE")
    parser.add_argument("--door", choices=("own", "fitted", "exchange"), default="fitted")
    parser.add_argument("--even", action="store_true", help="take the additive cast out as well as the light")
    parser.add_argument("--as", dest="kind", choices=("tiff", "exr", "dpx", "jpeg"), default="tiff")
    parser.add_argument(
        "--space", metavar="NAME", help="sRGB, ACES2065-1, ACEScg or ADX10, as the kind allows"
    )
    parser.add_argument(
        "--negative", nargs="?", const="tiff", choices=("tiff", "dpx"),
        help="write the evened negatives too: 16-bit TIFF, or 10-bit log DPX",
    )  # fmt: skip
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--workers", type=workers, default=2, metavar="N")
    where.add_argument("--cluster", metavar="ADDRESS", help="a dask.distributed scheduler")
    parser.add_argument("--overwrite", action="store_true")


def workers(text: str) -> int:
    """A whole number from 1 to 64."""
    if not text.isdigit() or not 1 <= int(text) <= 64:
        raise argparse.ArgumentTypeError(f"expected a whole number from 1 to 64, found {text}")
    return int(text)


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Print the roll."""
    from wetside.app.positive import PositiveOptions, positive

    crew = None
    if args.cluster:
        from wetside.app.cluster import Cluster

        crew = Cluster(args.cluster)
    curves = None
    if args.door == "own":
        from wetside.app.stock import curves_of_folder

        curves = curves_of_folder(args.folder)
    options = PositiveOptions(
        args.out,
        args.door,
        args.even,
        args.kind,
        args.space,
        args.negative,
        args.workers,
        args.open_gate,
        args.overwrite,
        curves,
        crew=crew,
    )
    found = positive(args.folder, options, progress)
    lines = [
        f"{len(found['frames'])} pictures in {args.out}, door {found['door']}: {found['say']}",
        found["evenness"]["say"],
    ]
    lines += [found["evenness"]["label"]] if found["evenness"]["label"] else []
    lines.append(found["consistency"]["say"])
    if found["kept"]:
        lines.insert(1, f"{found['kept']} of them were finished before and unchanged")
    lines += [f"{f['severity']}: {f['where']}: {f['say']}" for f in found["findings"]]
    return Outcome(found, "\n".join(lines))
