"""Scans dropped on the glass: a scratch folder each, the words said on its marks beside it, the oldest forgotten."""

from __future__ import annotations

import json
import re
import shutil
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from wetside.figures.finding import Unusable

MOST_FILES, MOST_KEPT, LONGEST = 200, 5, 100
FOLDER = re.compile(r"look-[0-9a-f]{12}\Z")


def plain_name(file: str) -> str:
    """A file's name in plain letters, shortened in its middle; its order among others stays as a rule."""
    stem, dot, kind = re.sub(r"[^\w .+@()#-]+", "_", file.replace("\\", "/").rpartition("/")[2]).rpartition(
        "."
    )
    if not dot or not stem.strip(" ."):
        raise Unusable(f"a picture's file name with its ending was expected, found {file[:40]!r}", "glass")
    room = LONGEST - len(kind) - 1
    short = stem if len(stem) <= room else f"{stem[: room // 2]}-{stem[-room // 2 + 1 :]}"
    return f"{short.lstrip('.')}.{kind}"


def keep_dropped(place: Path, name: str | None, file: str, content: bytes) -> str:
    """Keep one dropped file in a scratch folder under `place`; returns the folder's name."""
    known = plain_name(file)
    folder = place / (name if name and FOLDER.match(name) else f"look-{uuid.uuid4().hex[:12]}")
    folder.mkdir(parents=True, exist_ok=True)
    if len(list(folder.iterdir())) >= MOST_FILES:
        raise Unusable(
            f"at most {MOST_FILES} files are taken in one go: for more, wetside look FOLDER", "glass"
        )
    (folder / known).write_bytes(content)
    _forget_old(place)
    return folder.name


def _forget_old(place: Path) -> None:
    folders = [one for one in place.iterdir() if one.is_dir()]
    for folder in sorted(folders, key=lambda p: p.stat().st_mtime)[:-MOST_KEPT]:
        shutil.rmtree(folder, ignore_errors=True)
        _words(folder).unlink(missing_ok=True)


def _words(folder: Path) -> Path:
    return folder.with_name(f"{folder.name}.words")


def words_on(folder: Path) -> list[dict[str, Any]]:
    """What was said on the marks of a scratch folder's frames, in order; nothing where nothing was said."""
    try:
        lines = _words(folder).read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return []
    return [json.loads(line) for line in lines if line]


def say_on(folder: Path, word: Mapping[str, Any]) -> None:
    """Keep one more word beside a scratch folder."""
    with _words(folder).open("a", encoding="utf-8") as book:
        book.write(json.dumps(dict(word), allow_nan=False) + "\n")


def forget_words(folder: Path) -> None:
    """The words were kept in the book, or their folder is gone."""
    _words(folder).unlink(missing_ok=True)
