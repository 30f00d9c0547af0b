"""A link that is late, uneven or down between a page and the server, and a server that can be killed: for studies of the bench."""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

CHROMIUM = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"]

#: Keeps, in the page, when the shown count changed and how many taps the list held.
WATCH = """() => {
  window.seen = []; window.listed = [];
  let last = document.getElementById("left").textContent;
  const left = document.getElementById("left"), events = document.getElementById("events");
  new MutationObserver(() => { if (left.textContent !== last) window.seen.push([Date.now() / 1000, last = left.textContent]); }).observe(left, { childList: true, characterData: true, subtree: true });
  new MutationObserver(() => window.listed.push([Date.now() / 1000, events.children.length])).observe(events, { childList: true });
}"""


def free_port() -> int:
    with socket.socket() as door:
        door.bind(("127.0.0.1", 0))
        return int(door.getsockname()[1])


class Link:
    """A TCP relay on loopback with a delay (s) drawn for every piece in both directions, and a switch."""

    def __init__(self, target: int, seed: int) -> None:
        self.port, self.target, self.up = free_port(), target, True
        self.least, self.most = 0.0, 0.0
        self.random = random.Random(seed)
        self.loop = asyncio.new_event_loop()
        self.open: set[asyncio.StreamWriter] = set()
        ready = threading.Event()
        threading.Thread(target=self._run, args=(ready,), daemon=True).start()
        ready.wait(5)

    def _run(self, ready: threading.Event) -> None:
        asyncio.set_event_loop(self.loop)
        self.loop.run_until_complete(asyncio.start_server(self._relay, "127.0.0.1", self.port))
        ready.set()
        self.loop.run_forever()

    async def _relay(self, came: asyncio.StreamReader, back: asyncio.StreamWriter) -> None:
        try:
            if not self.up:
                return
            far, on = await asyncio.open_connection("127.0.0.1", self.target)
            self.open |= {back, on}
            await asyncio.gather(self._carry(came, on), self._carry(far, back))
        except OSError:
            pass
        finally:
            back.close()

    async def _carry(self, source: asyncio.StreamReader, sink: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError, asyncio.IncompleteReadError):
            while piece := await source.read(65536):
                if self.most:
                    await asyncio.sleep(self.random.uniform(self.least, self.most))
                sink.write(piece)
                await sink.drain()
        with contextlib.suppress(OSError):
            sink.close()
        self.open.discard(sink)

    def late(self, least: float, most: float) -> None:
        self.least, self.most = least, most

    def down(self) -> None:
        self.up = False
        self.loop.call_soon_threadsafe(lambda: [writer.transport.abort() for writer in list(self.open)])

    def restore(self) -> None:
        self.up = True


class Server:
    """`wetside serve` over one book, killed and started again at will."""

    def __init__(self, home: Path, first: Callable[[], None] | None = None) -> None:
        """`first` is called in the server's process before it becomes the server."""
        self.home, self.port, self.first = home, free_port(), first
        self.address = f"http://127.0.0.1:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> float:
        """Start it; the instant at which it first answered."""
        command = [sys.executable, "-m", "wetside.cli.main", "serve", "--port", str(self.port)]
        env = {**os.environ, "WETSIDE_HOME": str(self.home)}
        self.process = subprocess.Popen(
            command,
            env=env,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            preexec_fn=self.first,
        )
        for _ in range(600):
            try:
                urllib.request.urlopen(f"{self.address}/api/health", timeout=1).close()
                return time.time()
            except OSError:
                time.sleep(0.02)
        raise RuntimeError("the server did not answer")

    def kill(self) -> None:
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def asked(self, path: str, body: dict[str, Any] | None = None) -> dict[str, Any]:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.address + path, data, {"content-type": "application/json"})
        with urllib.request.urlopen(request, timeout=60) as answer:
            found: dict[str, Any] = json.load(answer)
        return found
