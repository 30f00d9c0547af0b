"""What the print room's form asks for, made: the roll's real pictures, into the book's `positives`."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wetside.app.printing.corrections import NAMES
from wetside.app.printing.grey_lines import greys_of
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.print_room import LEFT, Leave, about_of, bench_of, last_reading, notes_of
from wetside.app.printing.trims import trims_of
from wetside.app.sensitometry.crosstalk import calibration_kept
from wetside.app.sensitometry.stock import curves_of_folder
from wetside.app.viewing.glass import folder_of
from wetside.figures.progress import Progress, silent

#: What pictures can be made as, by the form's word: format and colour space (None: the format's usual one).
KINDS: dict[str, tuple[str, str | None]] = {
    "tiff": ("tiff", None),
    "jpeg": ("jpeg", None),
    "exr": ("exr", None),
    "acescg": ("exr", "ACEScg"),
    "dpx": ("dpx", None),
}


@dataclass(frozen=True)
class Making:
    """How the pictures are wanted.

    kind      a key of `KINDS`; `negative` the format of evened negatives, or None
    leave     names of the corrections that are not made
    alone     the pictures alone, cut to one size, in place of the whole scans
    sequence  a name, for frames in order without a gap; `film` frames a second of a film for looking at; None for neither
    """

    kind: str = "tiff"
    door: str = "fitted"
    leave: Leave = frozenset(LEFT)
    negative: str | None = None
    overwrite: bool = False
    alone: bool = False
    sequence: str | None = None
    film: float | None = None


def make(home: Path, roll: str, how: Making, progress: Progress = silent) -> dict[str, Any]:
    """Print the roll with the trims and greys that were kept; the `wetside.positive/1` object."""
    trims, balance = trims_of(home, roll)
    folder = folder_of(home, roll)
    bench = bench_of(home, roll, how.door)
    kind, space = KINDS[how.kind]
    asked = {
        file: [stain.mark for name, stain in own.items() if name not in how.leave]
        for file, own in bench.recipe.stains.items()
    }
    options = PositiveOptions(
        home / "positives" / roll,
        how.door,
        "cast" not in how.leave,
        kind,
        space,
        how.negative,
        workers=2,
        overwrite=how.overwrite,
        curves=curves_of_folder(folder, bench.recipe.matrix) if how.door == "own" else None,
        trims=trims,
        balance=balance,
        notes=notes_of(home, roll),
        sequence=how.sequence,
        film=how.film,
        mid_tones="mid-tones" not in how.leave,
        leave=tuple(name for name in NAMES if name in how.leave),
        soften={file: marks for file, marks in asked.items() if marks},
        greys=greys_of(home, roll) if how.door == "fitted" else (),
        by=calibration_kept(about_of(home, roll, how.door)["calibration"]),
        alone=how.alone,
        reading=last_reading(home, roll),
    )
    return positive(folder, options, progress)
