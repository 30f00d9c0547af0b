"""How much memory this process has held at most."""

from __future__ import annotations

import contextlib
import resource
from pathlib import Path


def peak_bytes() -> int:
    """Most resident bytes so far. The kernel's high-water mark is of this program alone; `getrusage`, where there is no
    such mark, also counts what the process was before it became this program."""
    with contextlib.suppress(OSError, ValueError, IndexError):
        for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
