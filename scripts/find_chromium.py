"""Find a Chromium for the browser tests, or install the system's own; print its path."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

NAMES = ("chromium", "chromium-browser")


def found() -> str | None:
    named = os.environ.get("WETSIDE_CHROMIUM")
    return named or next((path for name in NAMES if (path := shutil.which(name))), None)


def installed() -> str | None:
    if shutil.which("apt-get") and os.geteuid() == 0:
        subprocess.run(["apt-get", "update", "-q"], check=False, stdout=subprocess.DEVNULL)
        subprocess.run(["apt-get", "install", "-y", "-q", "chromium"], check=False, stdout=subprocess.DEVNULL)
    return found()


if __name__ == "__main__":
    path = found() or installed()
    if path is None:
        sys.exit(
            "No Chromium found. Install one, or set WETSIDE_CHROMIUM to its path; no browser test is skipped."
        )
    print(path)
