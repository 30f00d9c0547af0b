"""A frame that lies askew in its scan, printed alone: straight, and the same by the hand-over."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import PyOpenColorIO as ocio
import pytest
import tifffile
from benchmarks.rolls import Setting, roll

from wetside.app.printing.positive import PositiveOptions, positive

SKEW = 1.5


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
    """Scans that lie askew, their pictures alone with evened negatives, and those of the same first frame scanned straight."""
    place = tmp_path_factory.mktemp("askew")
    outs = []
    for name, skew in (("askew", SKEW), ("straight", 0.0)):
        roll(place / name, Setting("135", skew=skew, frames=1, fine=14.0), 7)
        positive(place / name, PositiveOptions(place / f"{name}-out", negative="tiff", alone=True))
        outs.append(place / f"{name}-out")
    return place / "askew", *outs


@pytest.mark.independent(how="the same picture scanned straight")
def test_a_picture_that_lies_askew_is_cut_out_straight_and_said_to_be(
    printed: tuple[Path, Path, Path],
) -> None:
    _, out, straight = printed
    turned = json.loads((out / "positive.json").read_text())["turned"]
    assert list(turned) == ["n1.tif"]
    assert abs(turned["n1.tif"]) == pytest.approx(SKEW, abs=0.1)
    assert json.loads((straight / "positive.json").read_text())["turned"] == {}
    found, wanted = (np.log10(tifffile.imread(one / "n1.negative.tif") / 65535.0) for one in (out, straight))
    height, width = (min(a, b) // 2 - 4 for a, b in zip(found.shape[:2], wanted.shape[:2]))
    found, wanted = (_middle(one, height, width) for one in (found, wanted))
    away = min(
        np.abs(np.roll(found, (y, x), (0, 1)) - wanted)[3:-3, 3:-3].mean()
        for y in range(-2, 3)
        for x in range(-2, 3)
    )
    # By two pixels each way, as well as a picture's place is known; a degree and a half is 8 pixels at the side.
    assert away < 0.35 * _unturned(wanted)
    said = " ".join((out / "positive.txt").read_text().split())
    assert "1 frame that lay askew, by up to 1.5°, set straight" in said


def _middle(pixels: np.ndarray, height: int, width: int) -> np.ndarray:
    y, x = pixels.shape[0] // 2, pixels.shape[1] // 2
    return cv2.GaussianBlur(pixels[y - height : y + height, x - width : x + width], (0, 0), 1.0)


def _unturned(pixels: np.ndarray) -> float:
    """Mean difference of a picture from itself turned."""
    tall, wide = pixels.shape[:2]
    by = cv2.getRotationMatrix2D((wide / 2, tall / 2), SKEW, 1)
    away = cv2.warpAffine(pixels, by, (wide, tall), borderMode=cv2.BORDER_REPLICATE) - pixels
    return float(np.abs(away).mean())


@pytest.mark.independent(how="OpenColorIO on the evened negative, by the files that go along")
def test_the_hand_over_reproduces_a_picture_that_was_set_straight(printed: tuple[Path, Path, Path]) -> None:
    _, out, _ = printed
    pixels = (tifffile.imread(out / "n1.negative.tif") / 65535).astype(np.float32)
    config = ocio.Config.CreateRaw()
    for file in ("n1.cdl", "positive.clf"):
        config.getProcessor(ocio.FileTransform(str(out / file))).getDefaultCPUProcessor().applyRGB(pixels)
    wanted = tifffile.imread(out / "n1.tif").astype(float)
    assert np.abs(np.clip(pixels, 0, 1) * 65535 - wanted).max() <= 1


def test_whole_scans_are_not_resampled(printed: tuple[Path, Path, Path], tmp_path: Path) -> None:
    scans, _, _ = printed
    found = positive(scans, PositiveOptions(tmp_path / "out"))
    assert json.loads((tmp_path / "out" / "positive.json").read_text())["turned"] == {}
    assert "skewed" in [one["id"] for one in found["findings"]]
    assert tifffile.imread(tmp_path / "out" / "n1.tif").shape == tifffile.imread(scans / "n1.tif").shape
