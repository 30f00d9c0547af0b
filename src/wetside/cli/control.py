"""Control of the process from strips: departures from the aim, limits, a verdict; `wetside control sheet` tells how to make strips."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside control`."""
    parser.add_argument(
        "do",
        nargs="?",
        choices=("strips", "sheet"),
        default="strips",
        help="strips: how the process stands (default); sheet: how to make strips",
    )
    parser.add_argument("--batch", metavar="NAME", help="a batch of strips; the one used last by default")
    parser.add_argument("--gauge", default="135", metavar="GAUGE", help="for the sheet")
    parser.add_argument(
        "--strips", type=int, default=18, metavar="N", help="for the sheet: how many strips to make"
    )


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Show how the process stands, or the sheet."""
    from wetside.app.sensitometry.control import control, sheet
    from wetside.store.settings import home

    if args.do == "sheet":
        made = sheet(args.gauge, args.strips)
        head = f"{made['strips']} strips of {made['gauge']}: {made['frames']} frames, {made['film_mm'] / 1000:.2f} m of film, {made['strip_mm']:.0f} mm a strip"
        return Outcome(
            made, "\n".join([head, *(f"{n}. {s['do']}: {s['say']}" for n, s in enumerate(made["steps"], 1))])
        )
    found = control(home(), args.batch)
    return Outcome(found, "\n".join(table(found)))


def table(found: dict) -> list[str]:
    """How the process stands, as text."""
    from datetime import datetime

    from wetside.app.sensitometry.control import named

    if found["cannot_say"]:
        return [f"cannot say: {found['cannot_say']}", f"would help: {found['would_help']}"]
    lines = [
        f"batch {found['batch']}, {found['process']}, {found['density']} density; aim: {found['aim']['from']}"
    ]
    lines.append(f"{'run':<14}{'':<12}" + "".join(f"{named(m):>22}" for m in ("dmin", "ld", "hd_ld")))
    for one in found["strips"]:
        day = datetime.fromtimestamp(one["happened_at"]).strftime("%Y-%m-%d")
        cells = "".join(
            "".join(
                f"{'–' if v is None else format(v, '+.2f'):>7}" for v in one["departures"][m].values()
            ).rjust(22)
            for m in ("dmin", "ld", "hd_ld")
        )
        lines.append(f"{one['run'][:13] or '–':<14}{day:<12}{cells}")
    lines.append(f"{found['verdict']['state']}: {found['verdict']['say']}")
    lines += [f"  {why}" for why in found["verdict"]["why"]]
    lines.append(f"before an irreplaceable roll: {found['clip_test']['answer']}: {found['clip_test']['why']}")
    return lines + ([f"would help: {found['would_help']}"] if found["would_help"] else [])
