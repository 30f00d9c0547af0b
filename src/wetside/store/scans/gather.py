"""Files of one roll in several folders: one order, one name each, the same file twice told by its content."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from wetside.figures.finding import Finding, Unusable
from wetside.store.scans.folder import listing, natural_key, role
from wetside.store.scans.stamps import sha256

LIGHTS_SAY = "the light of the first folder counts for all; where the light was changed between them, read each folder alone"


@dataclass
class Gathered:
    """Files by the names that they have together, in order, and what there is to say of them."""

    files: dict[str, Path] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def add(self, folder: Path) -> dict[str, Path]:
        """Take the images of one more folder; its frames come after those that are there. Gives what was added."""
        found = listing(folder)
        frames = [path for path in found.frames if not self._there(path)]
        there = [Path(name) for name in self.files if role(Path(name)) == "frame"]
        names = names_after(there, frames, len(self._folders()) + 1)
        added = dict(zip(names, frames))
        if names and names[0] != frames[0].name:
            self._say(
                "frames-renamed",
                f"the files of {folder.name} stand after the others as {names[0]} …",
                frames[0].name,
            )
        lights = [path for path in (found.open_gate, found.dark, *found.flats) if path is not None]
        if self.files and lights and not all(self._there(path) for path in lights):
            self._say(
                "light-passed-over", LIGHTS_SAY, ", ".join(f"{folder.name}/{path.name}" for path in lights)
            )
        elif not self.files:
            added |= {path.name: path for path in lights}
        self.files |= added
        return added

    def _folders(self) -> set[Path]:
        return {path.parent for path in self.files.values()}

    def _there(self, path: Path) -> bool:
        """Whether the same content is there already; said once a file."""
        alike = [(name, one) for name, one in self.files.items() if one.stat().st_size == path.stat().st_size]
        name = next((name for name, one in alike if sha256(one) == sha256(path)), None)
        if name is not None:
            self._say(
                "same-file-twice",
                f"{path.parent.name}/{path.name} is the same file as {name}: taken once",
                path.name,
            )
        return name is not None

    def _say(self, what: str, say: str, found: str) -> None:
        self.findings.append(Finding(what, "note", "roll", say, "", found))


def names_after(there: Sequence[Path], new: Sequence[Path], number: int) -> list[str]:
    """Names for new files that sort after those that are there: their own where they do, else with z2_ and the like before."""
    if not new:
        return []
    last = max((natural_key(path) for path in there), default=())
    marks = ["", *(f"{'z' * count}{number}_" for count in range(1, 40))]
    mark = next(m for m in marks if natural_key(Path(m + new[0].name)) > last)
    return [mark + path.name for path in new]


@contextlib.contextmanager
def gathered(folders: Sequence[Path]) -> Iterator[tuple[Path, list[Finding]]]:
    """One folder with links to the files of several, gone when the block ends; a single folder is itself."""
    if len(folders) == 1:
        yield folders[0], []
        return
    together = Gathered()
    for folder in folders:
        together.add(folder)
    with tempfile.TemporaryDirectory(prefix="wetside-") as place:
        for name, path in together.files.items():
            _link(path.resolve(), Path(place) / name)
        yield Path(place), together.findings


def _link(file: Path, name: Path) -> None:
    for way in (os.symlink, os.link, shutil.copy2):
        with contextlib.suppress(OSError):
            way(file, name)
            return
    raise Unusable("the files of several folders could not be laid side by side", str(name.parent))


def lay_beside(files: dict[str, Path], place: Path) -> None:
    """Copy files into a roll's folder, each under its final name only when it is whole; on a slip those laid down go again."""
    done = list[Path]()
    try:
        for name, path in files.items():
            beside = place / f".{name}.part"
            shutil.copy2(path, beside)
            beside.rename(place / name)
            done.append(place / name)
    except OSError as slip:
        for path in (*done, *place.glob(".*.part")):
            path.unlink(missing_ok=True)
        raise Unusable(
            f"the scans could not be laid beside the others: {slip.strerror}", place.name
        ) from None
