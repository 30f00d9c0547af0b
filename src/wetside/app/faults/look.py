"""The first ten minutes with a folder of scans: rung, marks, at most five questions, a verdict, one test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from wetside.app.reading.looked import take_look
from wetside.figures.finding import Unusable
from wetside.figures.progress import Progress, silent
from wetside.figures.reading import RollReading
from wetside.stages.causes.ranking.first_look import first_look, judged_answers
from wetside.stages.causes.signs.same_place import marks_of
from wetside.stages.causes.signs.verdicts import Verdict, with_verdicts
from wetside.store.given import json_in

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
    reading = take_look(folder, progress)
    if sheet is not None:
        from wetside.app.viewing.contact_sheet import write_contact_sheet

        write_contact_sheet(folder, reading, sheet)
    return seen_of(reading, given, sheet)


def seen_of(
    reading: RollReading,
    answers: Mapping[str, str],
    sheet: Path | None = None,
    words: Sequence[Verdict] = (),
) -> dict[str, Any]:
    """The `wetside.look/1` object of a reading with answers that were judged, and with the user's words on its marks."""
    frames: list[dict[str, Any]] = [frame.as_json() for frame in reading.frames]
    frames = with_verdicts({"frames": frames}, words)["frames"]
    marks = [{"file": frame["file"], **mark} for frame in frames for mark in frame["marks"]]
    return {
        "schema": "wetside.look/1", "rung": reading.rung, "reasons": list(reading.reasons),
        "frames": frames,
        "marks": marks,
        **first_look(reading, answers, marks_of(frames)), "contact_sheet": None if sheet is None else str(sheet),
        "findings": [finding.as_json() for finding in reading.findings],
    }  # fmt: skip


def look_again(
    folder: Path, answers: Mapping[str, Any] | None, words: Sequence[Verdict] = ()
) -> dict[str, Any]:
    """The `wetside.look/1` object from the look that was taken, with answers to its questions and words on its marks."""
    return seen_of(take_look(folder), judged_answers(answers), words=words)


def answers_from(file: Path | None) -> Mapping[str, Any] | None:
    """Answers from a JSON file."""
    if file is None:
        return None
    given = json_in(file)
    if not isinstance(given, dict):
        raise Unusable("expected a JSON object of question and choice", str(file))
    return given
