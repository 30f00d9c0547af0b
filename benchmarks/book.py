"""A book of 400 rolls and 60,000 lines: a roll's life, the shelf, and every page: `python -m benchmarks.book`.

The book is as years of work would fill it: 200 runs of two rolls with every pour, turn and reading tapped, 36 scans a
roll, a batch of control strips, four bottles every fifth run. Pages are opened through the whole web face in this
process, once after a new line and then again; CPU time is given, for the machine may be busy.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from wetside.app.shelf import shelf
from wetside.book.kinds import (
    BathMixed,
    Body,
    Exposed,
    Measured,
    Note,
    ReelOwned,
    RollLoaded,
    RunStarted,
    ScanAttached,
    StockNoted,
    StripBatch,
    StripRead,
    TankOwned,
    ThermometerChecked,
)
from wetside.book.line import Line, Thing
from wetside.book.text import line_of
from wetside.demo.pours import Tapped, taps_of
from wetside.store.ledger import Ledger

Row = tuple[str, str, str]
ROLLS, LINES, DAY = 400, 60_000, 86_400.0
BEGAN = 1_600_000_000.0
PAGES = (
    "/shelf", "/plan", "/bench", "/bench/run-150", "/bench/run-150/record", "/bench/run-150/sheet", "/mix",
    "/mix?process=ecn-2&tank=two-reel%20tank&tank_c=21&room_c=20", "/mix/labels?bath=developer%2030", "/glass", "/glass/R77",
    "/print/R77", "/control", "/causes", "/causes?of=R77", "/stocks", "/ink", "/ink?thing=roll:R77", "/ink?kind=bath",
    "/ink/line-00077", "/devices",
)  # fmt: skip


def told() -> Iterator[tuple[float, Body]]:
    """(seconds since the book began, line), notes left to fill it up."""
    yield 0, StockNoted(stock="DAY90", rated_ei=90, balance="daylight", backing="rem-jet")
    yield 0, TankOwned(tank="two-reel tank", volume_ml=600.0, mass_g=350.0, material="plastic", reels=2)
    yield 0, ReelOwned(reel="A", gauge="135", inner_radius_mm=20.0, pitch_mm=2.85)
    yield 0, ThermometerChecked(thermometer="kitchen probe", read_c=40.6, true_c=41.0, spread_c=0.1)
    yield 0, StripBatch(batch="S1", stock="DAY90", gauge="135", strips=200, steps=(1, 3, 4, 6))
    for n in range(ROLLS):
        at = n * 4 * DAY
        yield at, RollLoaded(roll=f"R{n}", stock="DAY90", gauge="135", length_mm=1622)
        for frame in range(1, 37):
            yield at + DAY, Exposed(roll=f"R{n}", first_frame=frame, last_frame=frame)
            yield (
                at + 20 * DAY,
                ScanAttached(
                    roll=f"R{n}", file=f"R{n}_{frame}.tif", sha256=f"{n * 36 + frame:064x}", frame=frame
                ),
            )
        yield at + 21 * DAY, Measured(roll=f"R{n}", what="departures", result=DEPARTURES)
    for n in range(ROLLS // 2):
        yield from run_of(n)


LEVEL = {"r": 0.01, "g": 0.02, "b": 0.0}
DEPARTURES = {"schema": "wetside.departures/1", "dmin": LEVEL, "ld": LEVEL, "hd_ld": LEVEL}


def run_of(n: int) -> Iterator[tuple[float, Body]]:
    at, name, mix = (8 * n + 6) * DAY, f"run-{n}", n // 5
    roles = ("prebath", "developer", "bleach", "fixer")
    if n % 5 == 0:
        for role in roles:
            yield at - DAY, BathMixed(bath=f"{role} {mix}", role=role, volume_ml=1000.0)
    rolls = tuple({"roll": f"R{2 * n + k}", "reel": "A", "core": "head"} for k in (0, 1))
    yield (
        at,
        RunStarted(
            run=name, process="ecn-2", tank="two-reel tank", thermometer="kitchen probe", rolls=rolls,
            baths={role: f"{role} {mix}" for role in roles}, room_c=20.5,
        ),
    )  # fmt: skip
    tapped = Tapped(
        name, at / DAY, 178.0 + n % 7, 42.0, ((25, 41.0 - n % 5 / 10), (150, 40.7)), dry_after_s=9000
    )
    yield from taps_of(tapped)
    density = dict.fromkeys("rgb", 0.2 + 0.01 * (n % 4))
    values = {key: {c: v + more for c, v in density.items()} for key, more in (("dmin", 0), ("ld", 0.3), ("md", 0.6), ("hd", 0.9))}  # fmt: skip
    yield (
        at + 9600,
        StripRead(batch="S1", run=name, reference=n == 0, spread=dict.fromkeys("rgb", 0.004), **values),
    )


def lines() -> list[Line]:
    """The whole book, filled up with notes to 60,000 lines."""
    every = list(told())
    every += [
        (n * DAY / 40, Note(text=f"note {n}", about=(f"roll:R{n % ROLLS}",)))
        for n in range(LINES - len(every))
    ]
    every.sort(key=lambda entry: entry[0])
    return [
        line_of(body, name=f"line-{n:05d}", happened_at=BEGAN + at, noted_at=BEGAN + at)
        for n, (at, body) in enumerate(every)
    ]


def filled(home: Path) -> None:
    with Ledger.open(home) as book:
        book.append_lines(lines())


def took(act: Callable[[], object]) -> float:
    """ms of CPU."""
    began = time.process_time()
    act()
    return 1000 * (time.process_time() - began)


def one_more(home: Path) -> None:
    with Ledger.open(home) as book:
        book.append(Note(text="one more", about=("roll:R77",)), happened_at=time.time())


def rows() -> list[Row]:
    """CPU times beside their goals; absolute, so a slow machine shows."""
    home = Path(tempfile.mkdtemp())
    filled(home)
    with Ledger.open(home) as book:
        life = min(took(lambda: book.lines(thing=Thing("roll", "R77"))) for _ in range(5))
    first = took(lambda: shelf(home))
    one_more(home)
    after = took(lambda: shelf(home))
    warm = min(took(lambda: shelf(home)) for _ in range(5))
    slowest = max(pages(home), key=lambda row: row[1])
    return [
        (f"a roll's life of 150 lines in {LINES:,}", f"{life:.1f} ms", "≤ 5 ms"),
        ("the shelf of 400 rolls, summary kept", f"{warm:.0f} ms", "≤ 150 ms"),
        ("the same, first time after a new line", f"{after:.0f} ms", "≤ 150 ms"),
        ("the same, summary dropped", f"{first:.0f} ms", "none"),
        (f"the slowest page ({slowest[0]}) after a new line", f"{slowest[1]:.0f} ms", "≤ 150 ms"),
    ]


def pages(home: Path) -> list[tuple[str, float, float]]:
    """(page, ms after a new line, ms again) for every page there is."""
    from starlette.testclient import TestClient

    from wetside.web.server import create_app

    found = []
    with TestClient(create_app(home), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000)) as door:

        def opened(path: str) -> None:
            answer = door.get(path)
            assert answer.status_code < 500, (path, answer.status_code)

        for path in PAGES:
            opened(path)
            one_more(home)
            after = took(lambda: opened(path))  # noqa: B023
            found.append((path, after, min(took(lambda: opened(path)) for _ in range(3))))  # noqa: B023
    return found


def main() -> None:
    """Every page, one line each."""
    place = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp())
    if not (place / "book.sqlite").exists():
        filled(place)
    for path, after, again in sorted(pages(place), key=lambda row: -row[1]):
        print(f"{path:<64} {after:7.0f} ms after a new line, {again:6.0f} ms again")


if __name__ == "__main__":
    main()
