"""Pictures of pages for looking at: `python scripts/screenshots.py BOOK OUT [PATH …]`, at phone and desktop size, both schemes."""

from __future__ import annotations

import re
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import sync_playwright

SIZES = {"phone": (390, 844), "desk": (1440, 900)}
PORT = 8791
ALL = (
    "/shelf",
    "/plan",
    "/bench",
    "/mix",
    "/glass",
    "/glass/R02?frame=2",
    "/print/R02",
    "/control",
    "/causes?of=R03",
    "/causes?of=R03&against=R06",
    "/stocks",
    "/ink",
)


def main(book: str, out: Path, paths: tuple[str, ...]) -> None:
    """Serve the book, open each page and write PNG files."""
    command = [sys.executable, "-m", "wetside.cli.main", "serve", "--home", book, "--port", str(PORT)]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _wait()
        out.mkdir(parents=True, exist_ok=True)
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
            for path in paths:
                for size, (width, height) in SIZES.items():
                    scheme = "light" if size == "desk" else "dark"
                    page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
                    page.goto(f"http://127.0.0.1:{PORT}{path}", wait_until="networkidle")
                    name = re.sub(r"\W+", "_", path).strip("_")
                    page.screenshot(path=str(out / f"{name}-{size}.png"), full_page=True)
                    page.close()
            browser.close()
    finally:
        server.terminate()
        server.wait(10)


def _wait() -> None:
    for _ in range(100):
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{PORT}/shelf", timeout=2)
            return
        except OSError:
            time.sleep(0.2)


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]), tuple(sys.argv[3:]) or ALL)
