"""Printing density (DPX) has its base's hue taken off and the holder at its dark end: still a negative, and read as one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wetside.app.demo import build_roll
from wetside.app.reading.read import ReadOptions, read
from wetside.demo.story import rolls


def test_a_roll_in_printing_density_is_read_from_its_base(tmp_path: Path) -> None:
    roll = next(one for one in rolls() if one.files == "dpx")
    build_roll(roll, tmp_path / "roll", 3, 0.6)
    found = read(tmp_path / "roll", ReadOptions(marks=False))
    assert found.density == "above base"
    assert not [f for f in found.findings if f.id == "inverted"]
    assert found.base is not None and np.array(found.base.density) == pytest.approx(np.zeros(3), abs=0.01)
