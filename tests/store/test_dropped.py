"""Dropped scans under names of any length and kind, as many as a roll holds, the oldest forgotten with the words on them."""

from __future__ import annotations

from pathlib import Path

import pytest

from wetside.figures.finding import Unusable
from wetside.store.dropped import (
    MOST_FILES,
    MOST_KEPT,
    forget_words,
    keep_dropped,
    plain_name,
    say_on,
    words_on,
)


def test_a_name_of_any_length_becomes_a_plain_one_in_the_same_order() -> None:
    long = [f"Second roll, evening light; 2400 dpi, holder B {'x' * 90} pass {i}.JPG" for i in range(1, 4)]
    plain = [plain_name(name) for name in long]
    assert plain == sorted(plain) and len(set(plain)) == 3
    assert all(len(name) <= 100 and name.endswith(".JPG") and "," not in name for name in plain)
    assert plain_name("scan_01.jpg") == "scan_01.jpg" and plain_name("../../a b.tif") == "a b.tif"
    assert "/" not in plain_name("Übung/é&ü?.png") and not plain_name(".hidden.jpg").startswith(".")
    for none in ("", ".jpg", "scan", "..."):
        with pytest.raises(Unusable):
            plain_name(none)


def test_more_files_than_are_taken_are_refused_with_the_other_way(tmp_path: Path) -> None:
    name = None
    for i in range(MOST_FILES):
        name = keep_dropped(tmp_path, name, f"{i}.jpg", b"x")
    with pytest.raises(Unusable, match="wetside look"):
        keep_dropped(tmp_path, name, "more.jpg", b"x")


def test_words_lie_beside_their_scans_and_go_with_them(tmp_path: Path) -> None:
    first = keep_dropped(tmp_path, None, "a.jpg", b"x")
    say_on(tmp_path / first, {"file": "a.jpg", "answer": "drawn"})
    say_on(tmp_path / first, {"file": "a.jpg", "answer": "not one"})
    assert [word["answer"] for word in words_on(tmp_path / first)] == ["drawn", "not one"]
    for i in range(MOST_KEPT):
        keep_dropped(tmp_path, None, f"{i}.jpg", b"x")
    assert not (tmp_path / first).exists() and words_on(tmp_path / first) == []
    forget_words(tmp_path / first)
