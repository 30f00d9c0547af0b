"""Calling a command: its parser, its outcome, its slips. Imported only when a command is called."""

from __future__ import annotations

import argparse
import os
import sys
from importlib import import_module

from wetside.cli.main import COMMANDS
from wetside.figures.progress import Progress, silent
from wetside.figures.unusable import Unusable

TYPE_CHECKING = False
if TYPE_CHECKING:
    from pathlib import Path
    from typing import NoReturn


class Outcome:
    """What a command has to say: one JSON object, and the same for a person."""

    __slots__ = ("json", "text")

    def __init__(self, json: dict, text: str) -> None:
        self.json, self.text = json, text


class Help(argparse.HelpFormatter):
    """Help as wide as the window, without the modules for copying trees of files and for filling paragraphs that argparse
    asks for its width and its lines: they take a fifth of the time in which help is there."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=window_width() - 2)

    def _split_lines(self, text: str, width: int) -> list[str]:
        return filled(text, width)

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return "\n".join(indent + line for line in filled(text, width - len(indent)))


def filled(text: str, width: int) -> list[str]:
    """The words of a text in lines no longer than a width; a longer word has a line of its own."""
    lines: list[str] = []
    for word in text.split():
        if lines and len(lines[-1]) + 1 + len(word) <= width:
            lines[-1] += " " + word
        else:
            lines.append(word)
    return lines


def window_width() -> int:
    """Columns of the window that is written to, as the environment or the window says; 80 where neither does."""
    told = os.environ.get("COLUMNS", "")
    if told.isdigit() and int(told) > 0:
        return int(told)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno() if sys.__stdout__ else 1).columns or 80
    except (OSError, ValueError):
        return 80


def path(word: str) -> Path:
    """A path of the command line; its library is only loaded where one is given."""
    from pathlib import Path

    return Path(word)


class Parser(argparse.ArgumentParser):
    """An argument parser whose errors are `Unusable` like every other slip of the user."""

    def __init__(self, prog: str, description: str | None) -> None:
        super().__init__(prog, description=description, allow_abbrev=False, formatter_class=Help)

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
    parser = Parser(f"wetside {name}", module.__doc__)
    parser.add_argument(
        "--json", action="store_true", help="print one JSON object on stdout, nothing else there"
    )
    module.arguments(parser)
    args = parser.parse_args(rest)
    outcome: Outcome = module.run(args, progress_for())
    if args.json:
        print(as_text(outcome.json))
    elif outcome.text:
        print(outcome.text)
    return 0


def as_text(answer: dict) -> str:
    """An answer as one line of JSON."""
    import json

    return json.dumps(answer, ensure_ascii=False, allow_nan=False)


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
            print(as_text(slip.as_json()))
        return 2
    except BrokenPipeError:
        return 0
    except KeyboardInterrupt:
        print("interrupted; nothing half-written was left", file=sys.stderr)
        return 130
