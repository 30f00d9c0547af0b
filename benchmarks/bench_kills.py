"""A whole ECN-2 run on two pages while the server is killed at random instants: `python -m benchmarks.bench_kills [KILLS] [PACE]`.

Every tap is made on one of the two pages, in turn; PACE 1 takes the process's real times (about a quarter of an hour), 6
a sixth of them. Counted: taps made, taps in the book, each once and within how many s of the time of the tap; and
whether both pages end in the state of the book.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

from benchmarks.bad_link import CHROMIUM, Link, Server
from benchmarks.bench_clock import chromium, opened
from wetside.laws.chemistry.processes import process_from_steps, process_named
from wetside.stages.bench.run import state


def main(kills: int = 12, pace: float = 6.0) -> None:
    """Run it once and print what was found."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as home, sync_playwright() as play:
        server, steps = Server(Path(home)), shortened(pace)
        links = [Link(server.port, 1), Link(server.port, 2)]
        for link in links:
            link.late(0.0, 0.06)
        body = {"process": "ecn-2"} if pace == 1 else {"process": "ecn-2 short", "steps": steps}
        run = server.asked("/api/runs", body)["id"]
        browser = play.chromium.launch(executable_path=chromium(), args=CHROMIUM)
        pages = [opened(browser, link, run, width) for link, width in zip(links, (390, 1440), strict=True)]
        whole = sum(step["seconds"] for step in steps) + 6 * len(steps)
        killer = threading.Thread(target=killed, args=(server, kills, whole), daemon=True)
        killer.start()
        made = driven(pages, steps)
        killer.join(60)
        told(server, run, pages, made, steps, kills)
        browser.close()
        server.kill()


def shortened(pace: float) -> list[dict[str, Any]]:
    rows = [step.as_json() for step in process_named("ecn-2").steps]
    return [{**row, "seconds": max(4.0, row["seconds"] / pace)} for row in rows]


def killed(server: Server, kills: int, whole: float) -> None:
    """Kills at random instants over the run, each followed by a random while without a server."""
    chance, began = random.Random(7), time.time()
    for at in sorted(chance.uniform(0, whole) for _ in range(kills)):
        time.sleep(max(0.0, began + at - time.time()))
        server.kill()
        time.sleep(chance.uniform(0.2, 2.5))
        server.start()


def driven(pages: list[Any], steps: list[dict[str, Any]]) -> list[tuple[str, float]]:
    """Taps of a whole run, on the pages in turn; (kind, time) of each. A drain waits for the page's own call."""
    made: list[tuple[str, float]] = []
    for step in steps:
        for kind, wait in (("fill", 0.0), ("full", 2.0), ("drain", 0.0), ("empty", 2.0)):
            page = pages[len(made) % 2]
            page.wait_for_timeout(1000 * wait)
            if kind == "drain":
                page.locator('#act[data-due="yes"]').wait_for(timeout=1000 * (step["seconds"] + 60))
            page.locator(f'#act[data-kind="{kind}"]').wait_for(timeout=60_000)
            made.append((kind, time.time()))
            page.click("#act")
    page = pages[len(made) % 2]
    page.locator('#act[data-kind="finish"]').wait_for(timeout=60_000)
    made.append(("finish", time.time()))
    page.click("#act")
    return made


def count_errors(pages: list[Any], steps: list[dict[str, Any]], events: list[dict[str, Any]]) -> list[float]:
    """ms by which every change of the shown count was off, by the book's events and the reducer in Python.

    Changes within 1.5 s after a tap are left out on the other page: until the tap has come to it, it cannot know.
    """
    process, found = process_from_steps("the run", steps), list[float]()
    seen = [change for page in pages for change in page.evaluate("() => window.seen")]
    for n, event in enumerate(events):
        if event["kind"] != "full":
            continue
        drain = state(process, events[: n + 1], event["happened_at"])["clock"]["drain_at"]
        ends = min(events[n + 1]["happened_at"], drain + 0.5)
        for at, text in seen:
            minutes, _, seconds = text.partition(":")
            if event["happened_at"] + 1.5 < at < ends and seconds and not text.startswith("+"):
                found.append(1000 * (at - (drain - 60 * int(minutes) - int(seconds))))
    return found


def told(
    server: Server,
    run: str,
    pages: list[Any],
    made: list[tuple[str, float]],
    steps: list[dict[str, Any]],
    kills: int,
) -> None:
    time.sleep(3)
    found = server.asked(f"/api/runs/{run}")
    events = sorted(found["events"], key=lambda event: event["happened_at"])
    off = [abs(event["happened_at"] - at) for event, (_, at) in zip(events, made, strict=False)]
    ends = [page.inner_text("#act") for page in pages]
    listed = [page.locator("#events li").count() for page in pages]
    same = [event["kind"] for event in events] == [kind for kind, _ in made]
    print(
        f"{kills} kills; {len(made)} taps made, {len(events)} in the book, {len({e['id'] for e in events})} ids"
    )
    print(f"same order: {same}; largest difference between tap and its time in the book: {max(off):.3f} s")
    print(f"state {found['state']['phase']}; pages say {ends}, list {listed} taps")
    count = count_errors(pages, steps, events)
    print(
        f"{len(count)} changes of the shown count: median {statistics.median(count):+.0f} ms, worst {max(count, key=abs):+.0f} ms; "
        f"{sum(abs(one) > 150 for one in count)} off by more than 150 ms"
    )


if __name__ == "__main__":
    words = sys.argv[1:]
    main(int(words[0]) if words else 12, float(words[1]) if len(words) > 1 else 6.0)
