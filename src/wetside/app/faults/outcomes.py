"""How an experiment came out, read from two scans and kept as a line: a redo, a frame turned half round, a laboratory's twin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from wetside.app.faults.causes import note_outcome
from wetside.app.faults.told import rolls_of, told_of_book
from wetside.app.reading.turned import AGAIN
from wetside.book.line import Line
from wetside.figures.finding import CannotSay, Unusable
from wetside.figures.scan import Scan
from wetside.stages.causes.ranking.experiments import TURNED, TWIN
from wetside.stages.causes.ranking.redo import redone, twinned
from wetside.stages.negative.scanner.turned import scanner_shading
from wetside.stages.negative.scanner.working import Light, working
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load

#: Experiments that two scans can tell.
BY_SCANS = ("re-bleach one frame", "re-fix one frame", TURNED, TWIN)
#: So many scans of other rolls are offered as a twin, the rolls noted last first.
TWINS = 240
#: Shading [D] from which the light or the glass is to blame, and under which it is not.
STAYS, NOT = 0.012, 0.006


def note_scans(home: Path, name: str, test: str, first: Path, second: Path) -> str:
    """Read two scans of one frame (or of one at home and its twin), keep what they show as the experiment's outcome; Unusable where they cannot say."""
    if test not in BY_SCANS:
        raise Unusable(f"two scans tell {', '.join(BY_SCANS)}; not {test[:60]!r}", "--scans")
    one, two = _scan(first), _scan(second)
    if one.exposure_s and two.exposure_s and abs(one.exposure_s / two.exposure_s - 1) > 0.02:
        raise Unusable(
            f"exposures differ: {one.exposure_s:g} s and {two.exposure_s:g} s; expected one for both scans",
            "--scans",
        )
    before, after = (np.asarray(working(scan, Light()).density, np.float32) for scan in (one, two))
    answer, say = _turned(before, after) if test == TURNED else _redo(before, after, test)
    note_outcome(home, name, test, answer, {"first": first.name, "second": second.name, "say": say})
    return f"{answer}: {say}"


def note_frames(home: Path, name: str, test: str, first: str, second: str) -> str:
    """The same for a roll's own files as `scans_of` names them."""
    lines, runs = told_of_book(home, name)
    there = scans_of(home, name, runs)
    seconds = twins_of(home, name, lines, runs) if test == TWIN else there["second"]
    for file, allowed in ((first, there["first"]), (second, seconds)):
        if file not in allowed:
            raise Unusable(f"no scan {file[:80]!r}; there are: {', '.join(allowed[:4]) or 'none'}", "scans")
    return note_scans(home, name, test, home / "scans" / first, home / "scans" / second)


def scans_of(home: Path, name: str, runs: Mapping[str, Line]) -> dict[str, list[str]]:
    """Scans of a roll or of a run's rolls, as ROLL/FILE, and second scans of single frames, which lie in ROLL/again."""
    folders = [home / "scans" / roll for roll in rolls_of(runs, name)]
    return {
        "first": [f"{at.name}/{file}" for at in folders for file in _frames(at)],
        "second": [f"{at.name}/{AGAIN}/{file}" for at in folders for file in _frames(at / AGAIN)],
    }


def twins_of(home: Path, name: str, lines: Sequence[Line], runs: Mapping[str, Line]) -> list[str]:
    """Scans of the book's other rolls, as ROLL/FILE, of which one may be the twin's; those noted last first."""
    own = set(rolls_of(runs, name))
    rolls = [str(line.body["roll"]) for line in reversed(lines) if line.kind == "roll"]
    found: list[str] = []
    for roll in dict.fromkeys(roll for roll in rolls if roll not in own):
        found += [f"{roll}/{file}" for file in _frames(home / "scans" / roll)]
        if len(found) >= TWINS:
            break
    return found[:TWINS]


def _frames(folder: Path) -> list[str]:
    try:
        return [file.name for file in listing(folder).frames]
    except Unusable:
        return []


def _scan(file: Path) -> Scan:
    if not file.is_file():
        raise Unusable("no such file", str(file))
    scan = load(file)
    if scan.coding == "gamma":
        raise Unusable("a gamma-coded file yields no density; expected a linear 16-bit scan", file.name)
    return scan


def _redo(before: np.ndarray, after: np.ndarray, test: str) -> tuple[str, str]:
    found = twinned(before, after) if test == TWIN else redone(before, after, test)
    if isinstance(found, CannotSay):
        raise Unusable(f"cannot say: {found.reason}; would help: {found.would_help}", "--scans")
    return found.answer, found.say


def _turned(first: np.ndarray, second: np.ndarray) -> tuple[str, str]:
    found = scanner_shading(first, second)
    if isinstance(found, CannotSay):
        raise Unusable(f"cannot say: {found.reason}; would help: {found.would_help}", "--scans")
    most = float(np.abs(found.field).max())
    say = f"the scanner's own shading is {most:.3f} ± {found.error:.3f} D where it is most"
    if most >= max(STAYS, 3 * found.error):
        return "stayed in place", say
    if most < NOT + found.error:
        return "turned with the film", say
    raise Unusable(
        f"cannot say: {say}, too near to nothing; would help: a scan of the light without film", "--scans"
    )
