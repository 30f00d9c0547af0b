"""Write a line into the book: `wetside note KIND field=value …`, or free words: `wetside note "text" --about roll:R01`."""

from __future__ import annotations

import argparse

from wetside.cli.calling import Outcome
from wetside.figures.progress import Progress
from wetside.figures.unusable import Unusable


def arguments(parser: argparse.ArgumentParser) -> None:
    """Options of `wetside note`."""
    parser.add_argument(
        "words", nargs="+", metavar="WORD", help="a kind and field=value pairs, or free words"
    )
    parser.add_argument(
        "--about",
        action="append",
        default=[],
        metavar="NAME",
        help="a thing the words are about: its name, or kind:name where two share one",
    )
    parser.add_argument("--at", metavar="TIME", help="when it happened, ISO 8601; now by default")


def run(args: argparse.Namespace, progress: Progress) -> Outcome:
    """Write the line."""
    from wetside.app.book import free_note, happened, note
    from wetside.book.kinds import KINDS
    from wetside.store.settings import home

    at = happened(args.at, "--at")
    pairs = [word for word in args.words[1:] if "=" in word]
    if args.words[0] in KINDS and len(pairs) == len(args.words) - 1 and pairs:
        line = note(home(), args.words[0], dict(word.split("=", 1) for word in pairs), at)
    elif pairs and len(pairs) == len(args.words) - 1 and not args.about:
        raise Unusable(f"no kind of line {args.words[0]!r}; one of {', '.join(KINDS)}", "kind")
    else:
        line = free_note(home(), " ".join(args.words), tuple(args.about), at)
    things = [str(thing) for thing in line.touches]
    return Outcome(
        {"schema": "wetside.note/1", "id": line.id, "kind": line.kind, "touches": things},
        f"noted: {line.kind} {', '.join(things)}   ({line.id})",
    )
