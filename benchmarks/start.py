"""Start of the command line against a bare interpreter, in one run: by the processor, the least of several.

Modules are compiled once and kept, as an installation keeps them, whatever the environment says.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile

from wetside.cli.main import COMMANDS

Row = tuple[str, str, str]
#: What the installed `wetside` runs.
ENTRY = "import sys; from wetside.cli.main import main; sys.exit(main(sys.argv[1:]))"


def seconds(words: list[str], compiled: str, times: int = 15) -> float:
    """Least time of the processor that a command takes; `compiled`: folder of what it compiles."""
    kept = os.environ | {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": compiled}
    taken = []
    for _ in range(times):
        began = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], capture_output=True, check=True, env=kept)
        ended = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(ended.ru_utime + ended.ru_stime - began.ru_utime - began.ru_stime)
    return min(taken)


def rows() -> list[Row]:
    """Measured ratios beside their goals."""
    with tempfile.TemporaryDirectory() as place:
        bare = seconds(["-c", "pass"], place, 30)
        own = seconds(["-c", ENTRY, "--help"], place)
        each = {name: seconds(["-c", ENTRY, name, "--help"], place) for name in COMMANDS}
    slowest = max(each, key=lambda name: each[name])
    return [
        ("`wetside --help` against a bare interpreter", f"{own / bare:.2f}×", "≤ 3×"),
        (f"the slowest of {len(each)} `wetside COMMAND --help` ({slowest})", f"{each[slowest] / bare:.2f}×", "≤ 3×"),
    ]  # fmt: skip


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
