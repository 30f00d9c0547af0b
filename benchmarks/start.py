"""Start of the command line against a bare interpreter, in one run: by the processor, the least of several."""

from __future__ import annotations

import resource
import subprocess
import sys

from wetside.cli.main import COMMANDS

Row = tuple[str, str, str]
#: What the installed `wetside` runs.
ENTRY = "import sys; from wetside.cli.main import main; sys.exit(main(sys.argv[1:]))"


def seconds(words: list[str], times: int = 15) -> float:
    """Least time of the processor that a command takes."""
    taken = []
    for _ in range(times):
        began = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], capture_output=True, check=True)
        ended = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(ended.ru_utime + ended.ru_stime - began.ru_utime - began.ru_stime)
    return min(taken)


def rows() -> list[Row]:
    """Measured ratios beside their goals."""
    bare = seconds(["-c", "pass"], 30)
    own = seconds(["-c", ENTRY, "--help"])
    each = {name: seconds(["-c", ENTRY, name, "--help"]) for name in COMMANDS}
    slowest = max(each, key=lambda name: each[name])
    return [
        ("`wetside --help` against a bare interpreter", f"{own / bare:.2f}×", "≤ 3×"),
        (f"the slowest of {len(each)} `wetside COMMAND --help` ({slowest})", f"{each[slowest] / bare:.2f}×", "≤ 3×"),
    ]  # fmt: skip


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
