"""A book of 400 rolls and 60,000 lines: a roll's life and the shelf."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from wetside.app.shelf import shelf
from wetside.book.kinds import Exposed, RollLoaded
from wetside.book.line import Thing
from wetside.book.text import line_of
from wetside.store.ledger import Ledger

Row = tuple[str, str, str]


def rows() -> list[Row]:
    """Measured times beside their goals; absolute, so a slow machine shows."""
    home = Path(tempfile.mkdtemp())
    with Ledger.open(home) as book:
        lines = [
            line_of(
                RollLoaded(roll=f"R{i}", stock="DAY90", gauge="135", length_mm=1622),
                name=f"r{i}",
                happened_at=i,
                noted_at=i,
            )
            for i in range(400)
        ]
        lines += [
            line_of(
                Exposed(roll=f"R{i % 400}", first_frame=i, last_frame=i),
                name=f"e{i}",
                happened_at=1000 + i,
                noted_at=i,
            )
            for i in range(59_600)
        ]
        book.append_lines(lines)
        began = time.perf_counter()
        book.lines(thing=Thing("roll", "R77"))
        life = time.perf_counter() - began
    began = time.perf_counter()
    shelf(home)
    cold = time.perf_counter() - began
    began = time.perf_counter()
    shelf(home)
    warm = time.perf_counter() - began
    return [
        ("a roll's life of 150 lines in 60,000", f"{life * 1000:.1f} ms", "≤ 5 ms"),
        ("the shelf of 400 rolls, summary kept", f"{warm * 1000:.0f} ms", "≤ 150 ms"),
        ("the same, first time after a new line", f"{cold * 1000:.0f} ms", "≤ 150 ms"),
    ]


if __name__ == "__main__":
    for row in rows():
        print("  ".join(row))
