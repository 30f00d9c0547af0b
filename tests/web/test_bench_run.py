"""A run stepped to its end on a phone-sized page, watched by a second page, with the server killed in the middle."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = [pytest.mark.browser]
STEPS = [{"name": "Developer", "seconds": 4}, {"name": "Stop bath", "seconds": 3}]


def opened(home: Path, port: int) -> subprocess.Popen[bytes]:
    """A server that answers."""
    server = subprocess.Popen(
        [sys.executable, "-m", "wetside.cli.main", "serve", "--port", str(port)],
        env={**os.environ, "WETSIDE_HOME": str(home)}, stdout=subprocess.DEVNULL,
    )  # fmt: skip
    for _ in range(200):
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{port}/api/health", timeout=2).close()
            return server
        except OSError:
            time.sleep(0.1)
    raise AssertionError("the server did not answer")


def asked(address: str, body: dict | None = None) -> dict:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(address, data, {"content-type": "application/json"})
    with urllib.request.urlopen(request, timeout=10) as answer:
        return json.load(answer)


def kinds(address: str, run: str) -> list[str]:
    return [event["kind"] for event in asked(f"{address}/api/runs/{run}")["events"]]


def until(address: str, run: str, count: int) -> list[str]:
    for _ in range(100):
        found = kinds(address, run)
        if len(found) >= count:
            return found
        time.sleep(0.1)
    raise AssertionError(f"{count} events were expected, found {found}")


def test_a_run_goes_on_over_a_killed_server_and_every_tap_arrives_once(tmp_path: Path, chromium) -> None:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        port = int(door.getsockname()[1])
    address = f"http://127.0.0.1:{port}"
    server = opened(tmp_path, port)
    run = asked(f"{address}/api/runs", {"process": "own", "steps": STEPS})["id"]
    phone = chromium.new_context(viewport={"width": 390, "height": 844}).new_page()
    watch = chromium.new_context(viewport={"width": 1440, "height": 900}).new_page()
    for page in (phone, watch):
        page.goto(f"{address}/bench/{run}")
        page.locator("#link", has_text="linked").wait_for()
    phone.click("#act")
    assert until(address, run, 1) == ["fill"]
    server.send_signal(signal.SIGKILL)
    server.wait()
    tapped = time.time()
    phone.click("#act")  # the tank is full, while nobody answers
    time.sleep(1.5)
    server = opened(tmp_path, port)
    assert until(address, run, 2) == ["fill", "full"]
    full = next(event for event in asked(f"{address}/api/runs/{run}")["events"] if event["kind"] == "full")
    assert abs(full["happened_at"] - tapped) < 1.0
    for expected in (3, 4, 5, 6, 7, 8, 9):
        phone.wait_for_selector("#act:not([disabled])")
        phone.click("#act")
        until(address, run, expected)
    assert kinds(address, run) == ["fill", "full", "drain", "empty"] * 2 + ["finish"]
    watch.wait_for_selector("#after:not([hidden])", state="attached", timeout=20_000)
    for page in (phone, watch):
        page.context.close()
    server.terminate()
    server.wait(10)


def test_a_run_is_started_by_its_form_and_a_mis_tap_taken_back(site: str, chromium) -> None:
    page = chromium.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.goto(f"{site}/bench")
    page.fill("input[name=roll1]", "R77")
    page.fill("input[name=reel1]", "A")
    page.select_option("select[name=edge1]", "opposite")
    page.select_option("select[name=tank]", "two-reel tank")
    page.select_option("select[name=thermometer]", "kitchen probe")
    page.select_option("select[name='bath developer']", "developer 1")
    page.select_option("select[name=push_stops]", "1")
    assert "estimates disagree" in page.inner_text("#longer")
    page.fill("input[name=room_c]", "warm")
    page.click("button >> text=Start a run")
    page.locator("#start-said", has_text="a number is expected").wait_for()
    page.fill("input[name=room_c]", "21,5")
    page.click("button >> text=Start a run")
    page.wait_for_url("**/bench/run-*")
    run = page.url.rsplit("/", 1)[1]
    page.locator("#link", has_text="linked").wait_for()
    assert "corrected by +0.4" in page.inner_text(".told:not(#awake)")
    page.click("#preflight button >> nth=0")
    page.locator("#preflight button >> text=Pass over the 7 left").click()
    until(site, run, 8)
    page.click("#act")
    until(site, run, 9)
    page.click("#key-back")
    page.locator("#back button:not([disabled]) >> nth=0").click()
    assert until(site, run, 10)[-1] == "strike"
    page.locator("#act", has_text="Pour Prebath").wait_for()
    for size in ({"width": 390, "height": 844}, {"width": 1440, "height": 900}):
        page.set_viewport_size(size)
        for key in ("#key-temperature", "#key-trouble", "#key-back", "#key-more"):
            page.click(key)
            box = page.locator(".half:not([hidden])").bounding_box()
            count = page.locator("#left").bounding_box()
            assert box is not None and count is not None
            apart = box["y"] >= count["y"] + count["height"] or box["x"] >= count["x"] + count["width"]
            assert apart, f"{key} hides the count at {size['width']} px"
            found = [
                v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")
            ]
            assert not found, (key, [(v["id"], [n["html"][:120] for n in v["nodes"][:2]]) for v in found])
            page.keyboard.press("Escape")
            assert page.evaluate("document.activeElement.id") == key[1:], "the focus goes back to its key"
    asked(f"{site}/api/runs/{run}/events", {"id": "end", "kind": "abandon", "happened_at": time.time()})
    for path, said in (("record", "R77"), ("sheet", "other edge down")):
        page.goto(f"{site}/bench/{run}/{path}")
        assert said in page.inner_text("main")
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.context.close()
