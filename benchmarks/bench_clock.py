"""The count on two real pages over bad links, against the truth: `python -m benchmarks.bench_clock`.

Truth is the server's own arithmetic: the shown count changes to N at drain − N. Page, relay and server share one
machine's clock, so the error is the page's. Stages: a clean link; 0–60 ms late each way with the phone's processor
slowed four times; 20 to 120 ms late; the link down for 6 s; the server killed for 4 s. A tap is noted while a page
cannot hear; "right again" is when the page lists it.
"""

from __future__ import annotations

import os
import shutil
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.bad_link import CHROMIUM, WATCH, Link, Server

STEPS = [{"name": "Developer", "role": "developer", "seconds": 600, "aim_c": 41.1}]


def main() -> None:
    """Drive both pages through the stages and print the table."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as home, sync_playwright() as play:
        server = Server(Path(home))
        links = [Link(server.port, 1), Link(server.port, 2)]
        browser = play.chromium.launch(executable_path=chromium(), args=CHROMIUM)
        run = server.asked("/api/runs", {"process": "own", "steps": STEPS})["id"]
        now = time.time()
        for kind, at in (("fill", now - 10), ("full", now - 2)):
            server.asked(f"/api/runs/{run}/events", {"id": kind, "kind": kind, "happened_at": at})
        pages = [opened(browser, link, run, size) for link, size in zip(links, (390, 1440), strict=True)]
        print(
            "| stage | phone: median, worst, ms | desk: median, worst, ms | right again, s |\n|---|---|---|---|"
        )
        try:
            stages(server, links, pages, run)
        finally:
            browser.close()
            server.kill()


def chromium() -> str:
    found = os.environ.get("WETSIDE_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    assert found, "no Chromium"
    return found


def opened(browser: Any, link: Link, run: str, width: int) -> Any:
    page = browser.new_context(viewport={"width": width, "height": 850}).new_page()
    page.goto(f"http://127.0.0.1:{link.port}/bench/{run}")
    page.locator("#link", has_text="linked").wait_for()
    page.evaluate(WATCH)
    return page


def stages(server: Server, links: list[Link], pages: list[Any], run: str) -> None:
    drain = server.asked(f"/api/runs/{run}")["state"]["clock"]["drain_at"]

    def told(name: str, seconds: float, again: str = "–") -> None:
        for page in pages:
            page.evaluate("() => { window.seen = []; }")
        time.sleep(seconds)
        report(name, pages, drain, again)

    told("clean link", 25)
    slowed = pages[0].context.new_cdp_session(pages[0])
    slowed.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    for link in links:
        link.late(0.0, 0.06)
    told("0–60 ms late each way, phone 4× slower", 40)
    slowed.send("Emulation.setCPUThrottlingRate", {"rate": 1})
    for link in links:
        link.late(0.02, 0.12)
    reload(pages)
    told("20–120 ms late each way, page loaded on it", 40)
    for link in links:
        link.late(0.0, 0.06)
    for link in links:
        link.down()
    noted(server, run, "heard-1")
    told("link down for 6 s", 6)
    restored = time.time()
    for link in links:
        link.restore()
    told("after it came back", 8, again(pages, restored, 3))
    server.kill()
    told("server killed for 4 s", 4)
    answered = server.start()
    noted(server, run, "heard-2")
    told("after it answered again", 8, again(pages, answered, 4))


def reload(pages: list[Any]) -> None:
    for page in pages:
        page.reload()
        page.locator("#link", has_text="linked").wait_for()
        page.evaluate(WATCH)


def noted(server: Server, run: str, name: str) -> None:
    """A tap from elsewhere; the pages' lists are watched for it."""
    server.asked(f"/api/runs/{run}/events", {"id": name, "kind": "agitate", "happened_at": time.time()})


def again(pages: list[Any], since: float, taps: int) -> str:
    """s from an instant until each page listed so many taps, the one it had missed among them."""
    found = []
    for page in pages:
        for _ in range(200):
            later = [at for at, count in page.evaluate("() => window.listed") if count >= taps]
            if later:
                break
            page.wait_for_timeout(20)
        found.append(max(0.0, later[0] - since) if later else float("nan"))
        page.evaluate("() => { window.listed = []; }")
    return ", ".join(f"{one:.2f}" for one in found)


def errors(page: Any, drain: float) -> list[float]:
    """ms by which each change of the shown count was late (+) or early (−)."""
    found = []
    for at, text in page.evaluate("() => window.seen"):
        minutes, _, seconds = text.partition(":")
        if seconds:
            found.append(1000 * (at - (drain - (60 * int(minutes) + int(seconds)))))
    return found


def report(name: str, pages: list[Any], drain: float, right: str) -> None:
    cells = []
    for page in pages:
        off = errors(page, drain)
        worst = max(off, key=abs) if off else float("nan")
        cells.append(f"{statistics.median(off):+.0f}, {worst:+.0f} ({len(off)} changes)" if off else "–")
    print(f"| {name} | {cells[0]} | {cells[1]} | {right} |", flush=True)


if __name__ == "__main__":
    main()
