"""`wetside`: one command a module, imported only when it is called.

A command module has `arguments(parser)` and `run(args, progress) -> Outcome`. Whatever it raises as
`Unusable` becomes one line on stderr and exit 2; with `--json` also an error object on stdout.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import dataclass
from importlib import import_module
from typing import NoReturn

from wetside import __version__
from wetside.figures.finding import Unusable
from wetside.figures.progress import Progress, silent

COMMANDS = {
    "look": "the first ten minutes with a folder of scans: where the fault sits, and whether it can be cured",
    "read": "read a roll as a densitometer would: base, densities, marks, cast, pattern",
    "causes": "what made this, what speaks for and against, and the cheapest next test",
    "positive": "print a roll of consistent, evened positives",
    "stock": "a stock's curve, speed, working exposure index, crossover and filters",
    "plan": "home, laboratory or wait: the cheapest plan for the rolls on the shelf",
    "mix": "a mixing sheet: quantities, pour-in temperatures, cautions",
    "shelf": "film, baths and gear, and what is due",
    "note": "write a line into the book",
    "book": "export, import or check the book",
    "schema": "the JSON Schema and an example of an input or output",
    "demo": "build the demo book and scans, and run the whole job on them",
    "serve": "open the web face on this machine",
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command has to say: one JSON object, and the same for a person."""

    json: dict[str, object]
    text: str


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are `Unusable` like every other slip of the user."""

    def error(self, message: str) -> NoReturn:
        raise Unusable(f"{self.prog}: {message}", self.prog)


def overview() -> Parser:
    """The parser that `wetside --help` shows; it imports no command."""
    commands = "\n".join(f"  {name:<10}{say}" for name, say in COMMANDS.items())
    parser = Parser(
        prog="wetside",
        usage="wetside COMMAND [options]",
        description="From a folder of scans and a book of what was done to the next roll that behaves.",
        epilog=f"commands:\n{commands}\n\n`wetside COMMAND --help` tells more; every command takes --json.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"wetside {__version__}")
    parser.add_argument("command", nargs="?", help=argparse.SUPPRESS)
    return parser


def nearest(word: str) -> str:
    from difflib import get_close_matches

    close = get_close_matches(word, COMMANDS, n=1)
    return f"; nearest: {close[0]}" if close else f"; one of {', '.join(COMMANDS)}"


def run(argv: list[str]) -> int:
    """Run one command; raises `Unusable` when it cannot be."""
    if not argv or argv[0].startswith("-"):
        parser = overview()
        parser.parse_args(argv)
        parser.print_help()
        return 0
    name, rest = argv[0], argv[1:]
    if name not in COMMANDS:
        raise Unusable(f"no command {name!r}{nearest(name)}", "command line")
    module = import_module(f"wetside.cli.{name}")
    parser = Parser(prog=f"wetside {name}", description=module.__doc__, allow_abbrev=False)
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on stdout, nothing else there"
    )
    module.arguments(parser)
    args = parser.parse_args(rest)
    outcome: Outcome = module.run(args, progress_for(args))
    if args.json:
        print(json.dumps(outcome.json, ensure_ascii=False, allow_nan=False))
    elif outcome.text:
        print(outcome.text)
    return 0


def progress_for(args: argparse.Namespace) -> Progress:
    """A bar on stderr when a person watches it; nothing otherwise."""
    if not sys.stderr.isatty():
        return silent
    from wetside.cli.bar import bar

    return bar()


def main(argv: list[str] | None = None) -> int:
    """The entry point. 0 done, 2 unusable, 1 a fault of the program (the traceback is Python's own)."""
    words = sys.argv[1:] if argv is None else argv
    try:
        return run(words)
    except Unusable as slip:
        print(
            slip.what if not slip.where or slip.where in slip.what else f"{slip.where}: {slip.what}",
            file=sys.stderr,
        )
        if "--json" in words:
            print(json.dumps(slip.as_json(), ensure_ascii=False, allow_nan=False))
        return 2
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        print("interrupted; nothing half-written was left", file=sys.stderr)
        return 130


if __name__ == "__main__":
    sys.exit(main())
