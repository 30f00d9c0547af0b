"""A stain that bends across the film, planted in photographs: read, and levelled out of the positives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.additive import ACROSS, SHAPES, left_of, stain
from benchmarks.rolls import Setting, Truth, roll

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.reading import RollReading

pytestmark = pytest.mark.independent(
    how="photographs by another film model, with a stain along the middle of the film and without it"
)
SIZE = np.array([0.03, 0.06, 0.11])
SETTING = Setting("110", frames=4, fine=20.0, falloff=0.12)
Made = tuple[Path, Path, Truth, RollReading]


@pytest.fixture(scope="module")
def rolls(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Folders of one roll, clean and stained, what it holds, and the stained one's reading."""
    folder = tmp_path_factory.mktemp("stained")
    truth = roll(folder / "clean", SETTING, 31)
    roll(folder / "stained", SETTING, 31, stain("the middle", SIZE))
    reading = read(folder / "stained", ReadOptions(gauge="110", marks=False))
    return folder / "clean", folder / "stained", truth, reading


def test_the_reading_has_the_stain_as_it_bends_and_a_clean_roll_is_given_none(rolls: Made) -> None:
    clean, _, _, reading = rolls
    assert reading.cast.kind == "additive" and reading.cast.anchor == "rebate"
    assert left_of(reading.cast, SHAPES["the middle"](ACROSS)[:, None] * SIZE) < 0.005
    assert read(clean, ReadOptions(gauge="110", marks=False)).cast.kind != "additive"


def rows_of(out: Path, name: str, truth: Truth, number: int) -> np.ndarray:
    """log10 of an evened negative's codes over the picture's rows (h, w, 3)."""
    x, y, w, h = truth.pictures[number]
    codes = tifffile.imread(out / f"{Path(name).stem}.negative.tif")[y + 3 : y + h - 3, x + 3 : x + w - 3]
    return np.log10(np.maximum(codes.astype(float), 1))


def test_a_positive_is_rid_of_the_stain_to_a_hundredth(rolls: Made, tmp_path: Path) -> None:
    clean, stained, truth, reading = rolls
    even = PositiveOptions(tmp_path / "even", negative="tiff", even=True, reading=reading)
    found = positive(stained, even)
    cast = next(one for one in found["corrections"] if one["id"] == "cast")
    assert cast["made"] and "gaps beside 4 pictures" in cast["why"]
    positive(stained, PositiveOptions(tmp_path / "plain", negative="tiff", reading=reading))
    positive(clean, PositiveOptions(tmp_path / "clean", negative="tiff", even=True))
    for number, name in enumerate(truth.names[:2]):
        away = {}
        for which in ("even", "plain"):
            step = rows_of(tmp_path / "clean", name, truth, number) - rows_of(tmp_path / which, name, truth, number)  # fmt: skip
            down = np.median(step, axis=1)
            away[which] = float(np.abs(down - down.mean(axis=0)).max())
        assert away["even"] < 0.01 and away["plain"] > 0.04
