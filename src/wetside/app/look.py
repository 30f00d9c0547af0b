"""The first ten minutes with a folder of scans: rung, marks, at most five questions, a verdict, one test."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from wetside.app.coded import all_coded, marks_under_way
from wetside.app.read import ReadOptions, read
from wetside.figures.finding import Unusable
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import RollReading
from wetside.stages.causes.film import Lie, placed
from wetside.stages.causes.first_look import first_look, judged_answers
from wetside.store.scans.folder import listing

SHEET = "contact-sheet.jpg"


def look(
    folder: Path,
    answers: Mapping[str, Any] | None = None,
    out: Path | None = None,
    progress: Progress = silent,
    *,
    overwrite: bool = False,
) -> dict[str, Any]:
    """The `wetside.look/1` object; with `out`, a contact sheet with the marks outlined."""  # fmt: skip
    given = judged_answers(answers)
    sheet = None if out is None else out / SHEET
    if sheet is not None and sheet.exists() and not overwrite:
        raise Unusable("exists already; say --overwrite to replace it", str(sheet))
    reading = looked_at(folder, progress)
    if sheet is not None:
        from wetside.app.contact_sheet import write_contact_sheet

        write_contact_sheet(folder, reading, sheet)
    seen = first_look(reading, given)
    return {
        "schema": "wetside.look/1", "rung": reading.rung, "reasons": list(reading.reasons),
        "frames": [frame.as_json() for frame in reading.frames],
        "marks": [{"file": frame.file, **mark.as_json()} for frame in reading.frames for mark in frame.marks],
        **seen, "contact_sheet": None if sheet is None else str(sheet),
        "findings": [finding.as_json() for finding in reading.findings],
    }  # fmt: skip


def answers_from(file: Path | None) -> Mapping[str, Any] | None:
    """Answers from a JSON file."""
    if file is None:
        return None
    try:
        given = json.loads(file.read_text(encoding="utf-8"))
    except OSError as slip:
        raise Unusable(f"cannot be read: {slip.strerror}", str(file)) from None
    except (ValueError, RecursionError) as slip:
        raise Unusable(f"expected JSON: {slip}", str(file)) from None
    if not isinstance(given, dict):
        raise Unusable("expected a JSON object of question and choice", str(file))
    return given


def looked_at(folder: Path, progress: Progress = silent) -> RollReading:
    """A reading for a first look. JPEG frames hold no film in common, so their marks are found by several processes."""
    files = listing(folder).frames
    if not all_coded(files):
        return read(folder, ReadOptions(), progress)
    with marks_under_way(files) as under_way:
        reading = read(folder, ReadOptions(marks=False), progress)
        marks = {}
        for number, (name, found) in enumerate(under_way, 1):
            marks[name] = found
            progress("marks", number, len(files))
    lie = Lie()
    frames = tuple(
        replace(frame, marks=tuple(placed(m, frame.picture, number, lie) for m in marks.get(frame.file, ())))
        for number, frame in enumerate(reading.frames, 1)
    )
    return replace(reading, frames=frames)


def reading_of(folder: Path, progress: Progress = silent) -> RollReading:
    """The reading behind a look, for pages that draw it."""
    return read(folder, ReadOptions(), progress)
