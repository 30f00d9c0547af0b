"""A process of its own that decodes EXR and DPX files first: a damaged one can stop a library's whole process.

One such process serves all files, so that a sequence of thousands costs no start each; one that dies or hangs is
replaced, and its file is called damaged.
"""

from __future__ import annotations

import contextlib
import json
import queue
import subprocess
import sys
import threading
from pathlib import Path

#: Seconds a small file may take, and bytes a second for a large one.
PATIENCE, PACE = 4.0, 2_000_000
START = 60.0
MOST_MEMORY = 3_000_000_000

PROGRAM = f"""
import json, sys
import OpenImageIO as o
try:
    import resource
    resource.setrlimit(resource.RLIMIT_AS, ({MOST_MEMORY}, {MOST_MEMORY}))
except (ImportError, ValueError, OSError):
    pass
print("ready", flush=True)
for line in sys.stdin:
    path = json.loads(line)
    try:
        file = o.ImageInput.open(path)
        good = file is not None and file.read_image(o.FLOAT if "float" in str(file.spec().format) or "half" in str(file.spec().format) else o.UINT16) is not None
        good = good and not file.has_error
        if file is not None:
            file.close()
    except Exception:
        good = False
    print("good" if good else "bad", flush=True)
"""


class Guard:
    """The process, started when it is first needed."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._child: subprocess.Popen[str] | None = None
        self._said: queue.Queue[str] = queue.Queue()

    def decodes(self, path: Path) -> bool:
        """Whether a file can be decoded whole; False when it cannot, stops its process, or takes too long."""
        with self._lock:
            try:
                answer = self._asked(path)
            except (queue.Empty, OSError):
                answer = "none"
            if answer not in ("good", "bad"):
                self._end()
            return answer == "good"

    def _asked(self, path: Path) -> str:
        child = self._running()
        assert child.stdin is not None
        child.stdin.write(json.dumps(str(path)) + "\n")
        child.stdin.flush()
        return self._said.get(timeout=PATIENCE + path.stat().st_size / PACE)

    def _running(self) -> subprocess.Popen[str]:
        if self._child is not None and self._child.poll() is None:
            return self._child
        self._said = queue.Queue()
        self._child = subprocess.Popen(
            [sys.executable, "-c", PROGRAM],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        threading.Thread(target=_listen, args=(self._child, self._said), daemon=True).start()
        if self._said.get(timeout=START) != "ready":
            raise OSError("the process could not be started")
        return self._child

    def _end(self) -> None:
        if self._child is not None:
            self._child.kill()
            self._child.wait()
            self._child = None


def _listen(child: subprocess.Popen[str], said: queue.Queue[str]) -> None:
    assert child.stdout is not None
    with contextlib.suppress(ValueError, OSError):
        for line in child.stdout:
            said.put(line.strip())
    said.put("ended")


guard = Guard()
