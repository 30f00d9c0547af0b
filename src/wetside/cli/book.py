"""Export the book as text, import text, or check that the book holds together."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome, path
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside book`."""
    parser.add_argument("what", choices=("export", "import", "check"))
    parser.add_argument("file", type=path, nargs="?", metavar="FILE")
    parser.add_argument("--overwrite", action="store_true", help="replace an existing export")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Do what was named."""
    from wetside.app.book import check_book, export_book, import_book
    from wetside.store.settings import home

    if args.what != "check" and args.file is None:
        raise Unusable(f"wetside book {args.what} needs a FILE", "wetside book")
    if args.what == "export":
        done = export_book(home(), args.file, overwrite=args.overwrite)
        return Outcome(done, f"{done['lines']} lines written to {done['file']}")
    if args.what == "import":
        done = import_book(home(), args.file)
        return Outcome(done, f"{done['lines']} lines read, {done['new']} of them new")
    done = check_book(home())
    faults = done["faults"]
    assert isinstance(faults, list)
    return Outcome(done, "\n".join(faults) or f"{done['lines']} lines, no fault")
