"""A process of its own that decodes EXR, DPX, PNG and JPEG XL files first: a damaged one can stop a library's whole process.

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
    what, path = json.loads(line)
    said = "bad"
    try:
        file = o.ImageInput.open(path)
        if file is not None:
            spec = file.spec()
            said = f"good {{spec.width}} {{spec.height}} {{spec.nchannels}} {{spec.get_int_attribute('oiio:BitsPerSample', spec.format.size() * 8)}}"
            floats = "float" in str(spec.format) or "half" in str(spec.format)
            if what == "decode" and (file.read_image(o.FLOAT if floats else o.UINT16) is None or file.has_error):
                said = "bad"
            file.close()
    except Exception:
        said = "bad"
    print(said, flush=True)
"""


class Guard:
    """The process, started when it is first needed."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._child: subprocess.Popen[str] | None = None
        self._said: queue.Queue[str] = queue.Queue()

    def decodes(self, path: Path) -> bool:
        """Whether a file can be decoded whole; False when it cannot, stops its process, or takes too long."""
        return self._answer("decode", path) is not None

    def size(self, path: Path) -> tuple[int, int, int, int] | None:
        """Width, height, channels and bits that a file's header states; None as above."""
        return self._answer("size", path)

    def _answer(self, what: str, path: Path) -> tuple[int, int, int, int] | None:
        with self._lock:
            try:
                said = self._asked(what, path).split()
            except (queue.Empty, OSError):
                said = []
            if not said or said[0] not in ("good", "bad"):
                self._end()
            if said[:1] != ["good"]:
                return None
            width, height, channels, bits = (int(word) for word in said[1:])
            return width, height, channels, bits

    def _asked(self, what: str, path: Path) -> str:
        child = self._running()
        assert child.stdin is not None
        child.stdin.write(json.dumps([what, str(path)]) + "\n")
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
