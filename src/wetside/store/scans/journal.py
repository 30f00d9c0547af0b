"""What was finished of a roll, kept beside its pictures: one line a frame, so that an interrupted roll goes on.

`OUT/.positive/journal.jsonl` holds {"file", "key", "outputs": {name: [bytes, mtime_ns]}, "frame": {…}} a line, and {"begun": [names], "at"} before a run writes; a line
cut off by a crash is passed over. `OUT/.positive/lock` is held while a roll is written into OUT.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from wetside.figures.finding import Unusable

PLACE = ".positive"
#: How far a shared store's clock may lie behind this machine's.
SKEW_NS = 2_000_000_000


class Journal:
    """The finished frames of one output folder."""

    def __init__(self, out: Path) -> None:
        self.out, self.file = out, out / PLACE / "journal.jsonl"
        self.lines: dict[str, dict[str, Any]] = {}
        self.stamps: dict[str, list[int] | None] = {}
        self.begun: dict[str, int] = {}
        if self.file.is_file():
            for text in self.file.read_text(encoding="utf-8", errors="replace").splitlines():
                with contextlib.suppress(ValueError):
                    line = json.loads(text)
                    if isinstance(line, dict) and isinstance(line.get("file"), str):
                        self.lines[line["file"]] = line
                        self.stamps |= line.get("outputs", {})
                        for name in line.get("outputs", {}):
                            self.begun.pop(name, None)
                    elif isinstance(line, dict) and isinstance(line.get("begun"), list):
                        self.begun |= dict.fromkeys(map(str, line["begun"]), int(line["at"]))

    def own(self, name: str) -> bool:
        """True when this file is as the journal says it was written, or was left by a frame begun and never finished."""
        found = _stamp(self.out / name)
        left = name in self.begun and found is not None and found[1] >= self.begun[name]
        return left or self._as_written(name)

    def _as_written(self, name: str) -> bool:
        return name in self.stamps and _stamp(self.out / name) == self.stamps[name]

    def begin(self, names: Iterable[str]) -> None:
        """Note files that are about to be written and may be: a crash that leaves some of them does not block the next run."""
        at = time.time_ns() - SKEW_NS
        begun = list(names)
        self.begun |= dict.fromkeys(begun, at)
        self._append({"begun": begun, "at": at})

    def finished(self, file: str, key: str, names: Iterable[str]) -> dict[str, Any] | None:
        """What is kept of a finished frame, when its inputs are the same and its outputs still stand as written."""
        line = self.lines.get(file)
        if line is None or line.get("key") != key or set(line.get("outputs", {})) != set(names):
            return None
        return line.get("frame") if all(self._as_written(name) for name in line["outputs"]) else None

    def add(self, file: str, key: str, names: Iterable[str], frame: dict[str, Any]) -> None:
        """Note a finished frame; on disk before this returns."""
        outputs = {name: _stamp(self.out / name) for name in names}
        line: dict[str, Any] = {"file": file, "key": key, "outputs": outputs, "frame": frame}
        self.lines[file] = line
        self.stamps |= outputs
        for name in outputs:
            self.begun.pop(name, None)
        self._append(line)

    def _append(self, line: dict[str, Any]) -> None:
        with self.file.open("a", encoding="utf-8") as stream:
            stream.write("\n" if self._torn() else "")
            stream.write(json.dumps(line, ensure_ascii=False) + "\n")

    def _torn(self) -> bool:
        with self.file.open("rb") as stream:
            if stream.seek(0, 2) == 0:
                return False
            stream.seek(-1, 2)
            return stream.read(1) != b"\n"


def _stamp(path: Path) -> list[int] | None:
    try:
        found = path.stat()
    except OSError:
        return None
    return [found.st_size, found.st_mtime_ns]


@contextlib.contextmanager
def held(out: Path) -> Iterator[None]:
    """The output folder, made and held for one writer; half-written files of a crash are swept away before and after."""
    try:
        (out / PLACE).mkdir(parents=True, exist_ok=True)
        lock = (out / PLACE / "lock").open("a")
    except OSError as slip:
        raise Unusable(f"cannot be written to: {slip.strerror}", str(out)) from None
    with lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise Unusable("another printing is writing into this folder", str(out)) from None
        except OSError:
            pass  # a shared store without locks; docs/positive.md says what that means
        _sweep(out)
        try:
            yield
        finally:
            _sweep(out)


def _sweep(out: Path) -> None:
    """Remove half-written files of processes that were killed."""
    with contextlib.suppress(OSError):
        for half in out.glob(".*.part*"):
            half.unlink(missing_ok=True)
