"""Calling a command: its parser, its outcome, its slips. Imported only when a command is called."""

from __future__ import annotations

import argparse
import json
import sys
from importlib import import_module
from typing import NamedTuple, NoReturn

from wetside.cli.main import COMMANDS
from wetside.figures.finding import Unusable
from wetside.figures.progress import Progress, silent


class Outcome(NamedTuple):
    """What a command has to say: one JSON object, and the same for a person."""

    json: dict
    text: str


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are `Unusable` like every other slip of the user."""

    def error(self, message: str) -> NoReturn:
        raise Unusable(f"{self.prog}: {message}", self.prog)


def nearest(word: str) -> str:
    """The command a word may have meant, or all of them."""
    from difflib import get_close_matches

    close = get_close_matches(word, COMMANDS, n=1)
    return f"; nearest: {close[0]}" if close else f"; one of {', '.join(COMMANDS)}"


def run(name: str, rest: list[str]) -> int:
    """Run one command; raises `Unusable` when it cannot be."""
    if name not in COMMANDS:
        raise Unusable(f"no command {name!r}{nearest(name)}", "command line")
    module = import_module(f"wetside.cli.{name}")
    parser = Parser(prog=f"wetside {name}", description=module.__doc__, allow_abbrev=False)
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on stdout, nothing else there"
    )
    module.arguments(parser)
    args = parser.parse_args(rest)
    outcome: Outcome = module.run(args, progress_for())
    if args.json:
        print(json.dumps(outcome.json, ensure_ascii=False, allow_nan=False))
    elif outcome.text:
        print(outcome.text)
    return 0


def progress_for() -> Progress:
    """A bar on stderr when a person watches it; nothing otherwise."""
    if not sys.stderr.isatty():
        return silent
    from wetside.cli.bar import bar

    return bar()


def called(words: list[str]) -> int:
    """Run the words of a command line; a slip is one line on stderr and exit 2."""
    try:
        return run(words[0], words[1:])
    except Unusable as slip:
        whole = slip.what if not slip.where or slip.where in slip.what else f"{slip.where}: {slip.what}"
        print(whole, file=sys.stderr)
        if "--json" in words:
            print(json.dumps(slip.as_json(), ensure_ascii=False, allow_nan=False))
        return 2
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        print("interrupted; nothing half-written was left", file=sys.stderr)
        return 130
