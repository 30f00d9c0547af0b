"""Printing density (DPX) has its base's hue taken off and the holder at its dark end: still a negative, and read as one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from wetside.app.demo import build_roll
from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.demo.story import rolls
from wetside.figures.place import Rectangle
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("log") / "roll"
    build_roll(next(one for one in rolls() if one.files == "dpx"), place, 3, 0.6)
    return place


def test_a_roll_in_printing_density_is_read_from_its_base(folder: Path) -> None:
    found = read(folder, ReadOptions(marks=False))
    assert found.density == "above base"
    assert not [f for f in found.findings if f.id == "inverted"]
    assert found.base is not None and np.array(found.base.density) == pytest.approx(np.zeros(3), abs=0.01)


@pytest.mark.published(
    source="st-268-1",
    place="printing density: 0.002 D a 10-bit code, so its darkest code is 1.856 D over white",
)
def test_a_holder_at_the_darkest_code_tells_no_stray_light(folder: Path) -> None:
    file = listing(folder).frames[0]
    density = -np.log10(load(file).pixels)
    holder = density[:3].mean()
    assert holder == pytest.approx(1.856, abs=0.001)
    tall, wide = density.shape[:2]
    blocks = {
        (x, y): density[y : y + 12, x : x + 12]
        for y in range(tall // 3, 2 * tall // 3, 12)
        for x in range(wide // 4, 3 * wide // 4, 12)
    }
    (x, y), block = max(blocks.items(), key=lambda one: one[1].mean() if one[1].max() < 1.6 else 0.0)
    found = read(folder, ReadOptions(marks=False, patches=(PatchAt(file.name, Rectangle(x, y, 12, 12)),)))
    assert not [f for f in found.findings if f.id == "flare"]
    seen = found.patches[0].density
    assert seen is not None and np.array(seen) == pytest.approx(
        -np.log10((10**-block).mean((0, 1))), abs=0.06
    )
