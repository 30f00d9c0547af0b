"""`wetside`: one command a module, imported only when it is called; help imports nothing at all.

A command module has `arguments(parser)` and `run(args, progress) -> Outcome`. Whatever it raises as
`Unusable` becomes one line on stderr and exit 2; with `--json` also an error object on stdout.
"""

from __future__ import annotations

import sys

from wetside import __version__

COMMANDS = {
    "look": "the first ten minutes with a folder of scans: where the fault sits, and whether it can be cured",
    "read": "read a roll as a densitometer would: base, densities, marks, cast, pattern",
    "calibrate": "camera density to status M from known patches; watch the light",
    "strip": "read a wedge, a grey scale or a control strip step by step",
    "control": "how the process stands, from control strips; how to make them",
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


def help_text() -> str:
    """What `wetside --help` prints."""
    commands = "\n".join(f"  {name:<10}{say}" for name, say in COMMANDS.items())
    return (
        "usage: wetside COMMAND [options]\n\n"
        "From a folder of scans and a book of what was done to the next roll that behaves.\n\n"
        f"commands:\n{commands}\n\n`wetside COMMAND --help` tells more; every command takes --json."
    )


def main(argv: list[str] | None = None) -> int:
    """The entry point. 0 done, 2 unusable, 1 a fault of the program (the traceback is Python's own)."""
    words = sys.argv[1:] if argv is None else argv
    if not words or words[0] in ("-h", "--help"):
        print(help_text())
        return 0
    if words[0] == "--version":
        print(f"wetside {__version__}")
        return 0
    from wetside.cli.calling import called

    return called(words)


if __name__ == "__main__":
    sys.exit(main())
