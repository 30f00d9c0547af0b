"""Start of the command line against a bare interpreter, in one run."""

from __future__ import annotations

import subprocess
import sys
import time

Row = tuple[str, str, str]


def seconds(words: list[str], times: int = 7) -> float:
    """Median wall time of a command."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        subprocess.run(words, capture_output=True, check=False)
        taken.append(time.perf_counter() - began)
    return sorted(taken)[times // 2]


def rows() -> list[Row]:
    """Measured ratio beside its goal."""
    bare = seconds([sys.executable, "-c", "pass"])
    own = seconds([sys.executable, "-m", "wetside.cli.main", "--help"])
    return [("`wetside --help` against a bare interpreter", f"{own / bare:.2f}×", "≤ 3×")]


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
