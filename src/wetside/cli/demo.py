"""Build the demo book and scans, run the whole job on them, and say where to look."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome, path
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside demo`."""
    parser.add_argument("--home", type=path, metavar="DIR", help="where to build it; WETSIDE_HOME by default")
    parser.add_argument("--full", action="store_true", help="scans of full size")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Build and run."""
    from wetside.app.demo import demo
    from wetside.store.settings import home

    place = args.home or home()
    found = demo(place, progress, full=args.full)
    lines = [f"{found['rolls']} rolls of an invented ferry-line film stand in {place}", ""]
    lines += [f"  planted  {one['planted']}\n  found    {one['found']}\n" for one in found["found"]]
    lines.append(
        f"positives: {place / 'positives' / 'R09'}\nlook further: make serve, or wetside serve with WETSIDE_HOME={place}"
    )
    return Outcome(found, "\n".join(lines))
