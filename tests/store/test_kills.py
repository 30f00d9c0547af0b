"""A few kills during imports and exports; the whole study: `python -m benchmarks.kills`."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from benchmarks.kills import during_exports, during_imports


@pytest.mark.independent(how="the command killed with −9 at random instants, the book read by this process")
def test_a_killed_import_or_export_leaves_all_or_nothing(tmp_path: Path) -> None:
    chance = random.Random(2)
    assert during_imports(tmp_path, 2, chance)[1] == 0
    assert during_exports(tmp_path, 2, chance)[1] == 0
