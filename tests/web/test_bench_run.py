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

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("browser")]
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
