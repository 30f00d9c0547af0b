"""Calibrate a light and a scanner from patches of known density; with an open-gate file, watch the light."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome, path
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside calibrate`."""
    parser.add_argument(
        "place",
        type=path,
        metavar="FOLDER|FILE",
        help="scans with a calibration.json; or an open gate, to watch the light",
    )
    parser.add_argument(
        "--turned",
        type=path,
        metavar="FILE",
        help="the frame FILE scanned again, the film turned half round in the holder: tells the scanner's shading from the film's",
    )
    parser.add_argument("--light", default="", metavar="NAME")
    parser.add_argument("--scanner", default="", metavar="NAME")
    parser.add_argument("--keep", metavar="NAME", help="keep the calibration in the book under this name")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Calibrate, or watch the light."""
    from wetside.app.sensitometry.calibrate import calibrate, keep, watch
    from wetside.store.settings import home

    if args.turned is not None:
        from wetside.app.reading.turned import turned

        shading = turned(args.place, args.turned)
        return Outcome(shading, "\n".join(shading_table(shading)))
    if (args.keep or args.place.is_file()) and not (args.light and args.scanner):
        raise Unusable(
            "a calibration belongs to one light and one scanner: give --light and --scanner", "--light"
        )
    if args.place.is_file():
        seen, line = watch(home(), args.place, args.light, args.scanner)
        return Outcome(seen, "\n".join([*light_table(seen), f"noted: light seen ({line.id})"]))
    found = calibrate(args.place, progress)
    note = []
    if args.keep:
        note = [f"kept: {args.keep} ({keep(home(), args.keep, found, args.light, args.scanner).id})"]
    return Outcome(found, "\n".join([*table(found), *note]))


def table(found: dict) -> list[str]:
    """A calibration as text."""
    if found["cannot_say"]:
        return [f"refused: {found['cannot_say']}", f"would help: {found['would_help']}"]
    fit = found["fit"]
    lines = [
        f"camera density to {found['aim']}, from {fit['patches']} patches, condition {fit['condition']:.1f}"
    ]
    for c, row, shift, check in zip("rgb", fit["matrix"], fit["offset"], fit["check"]):
        lines.append(
            f"{c} = {row[0]:+.3f} r {row[1]:+.3f} g {row[2]:+.3f} b {shift:+.3f}   check ± {check:.3f} D"
        )
    worst = max(found["patches"], key=lambda p: max(abs(v) for v in p["off"].values()))
    lines.append(
        f"farthest off: {worst['file']} at {worst['x']},{worst['y']}: "
        + "  ".join(f"{v:+.3f}" for v in worst["off"].values())
    )
    return lines


def light_table(seen: dict) -> list[str]:
    """A light's sights as text."""
    from datetime import datetime

    lines = [f"{seen['light']} with {seen['scanner']}: hue against the first sight, D"]
    for one in seen["seen"]:
        day = datetime.fromtimestamp(one["happened_at"]).strftime("%Y-%m-%d %H:%M")
        lines.append(f"{day}   red {one['red_green']:+.3f}   blue {one['blue_green']:+.3f}   {one['file']}")
    return lines + [f"{f['severity']}: {f['say']} {f['found']}" for f in seen["findings"]]


def shading_table(found: dict) -> list[str]:
    """The scanner's shading as text."""
    if found["cannot_say"]:
        return [f"cannot say: {found['cannot_say']}", f"would help: {found['would_help']}"]
    lines = ["shading of the scanner that half a turn shows, D  r g b"]
    for key, say in (
        ("left_to_right", "left to right"),
        ("top_to_bottom", "top to bottom"),
        ("peak", "at its peak"),
    ):
        lines.append(
            f"{say:<15}" + "  ".join(f"{v:+.3f}" for v in found[key].values()) + f"   ± {found['error']:.3f}"
        )
    return [*lines, f"would help: {found['would_help']}"]
