"""What made this: causes of a run or roll of the book, or of evidence in a JSON file (`wetside schema causes-evidence`)."""

from __future__ import annotations

import argparse
from pathlib import Path

from wetside.cli.calling import Outcome
from wetside.figures.finding import Unusable
from wetside.figures.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside causes`."""
    parser.add_argument("run", nargs="?", metavar="RUN", help="a run or a roll of the book")
    parser.add_argument("--evidence", type=Path, metavar="FILE.json")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Rank the causes."""
    from wetside.app.causes import causes_of_file, causes_of_run
    from wetside.store.settings import home

    if (args.run is None) == (args.evidence is None):
        raise Unusable("name a RUN of the book, or give --evidence FILE.json", "wetside causes")
    found = causes_of_file(args.evidence) if args.evidence else causes_of_run(home(), args.run)
    return Outcome(found, causes_text(found))


def causes_text(found: dict) -> str:
    """Causes for people: the open ones with what speaks for and against."""
    lines = []
    for cause in [c for c in found["causes"] if c["how"] != "unlikely"] or found["causes"][:1]:
        lines.append(f"{cause['how']}: {cause['cause']}   curable: {cause['curable']}")
        lines += [f"    for      {say}" for say in cause["for"][:5]] + [
            f"    against  {say}" for say in cause["against"][:4]
        ]
    lines += [f"cannot be told apart: {', '.join(group)}" for group in found["inseparable"]]
    if not found["causes"]:
        lines.append("cannot say: no density, mark, cast or log was given")
    test = found["next_test"]
    lines.append(f"next: {test['what']} ({test['minutes']:g} min): {test['tells']}")
    return "\n".join(lines)
