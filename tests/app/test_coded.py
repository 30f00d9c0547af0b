"""A first look at JPEG files by several processes gives what one process gives."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from wetside.app.reading.coded import all_coded, marks_of_file
from wetside.app.reading.looked import looked_at
from wetside.app.reading.read import read
from wetside.stages.causes.signs.perhaps import Searched


@pytest.mark.independent(how="the same folder read by one process")
def test_several_processes_see_the_marks_that_one_sees(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    for i in range(7):
        picture = np.full((240, 360, 3), 120, np.float32) + cv2.GaussianBlur(
            rng.normal(0, 60, (240, 360, 3)), (0, 0), 25
        )
        if i % 2:
            cv2.circle(picture, (80 + 30 * i, 120), 12, (60.0, 60.0, 60.0), -1)
        cv2.imwrite(
            str(tmp_path / f"f{i}.jpg"),
            np.clip(picture + rng.normal(0, 1.5, picture.shape), 0, 255).astype(np.uint8),
        )
    (tmp_path / "f7.jpg").write_bytes(b"not a picture")
    one, several = read(tmp_path), looked_at(tmp_path)
    assert one.as_json() == several.as_json()
    assert any(frame.marks for frame in several.frames)


def test_other_files_or_few_take_the_long_way_and_a_damaged_one_has_no_marks(tmp_path: Path) -> None:
    files = [tmp_path / f"f{i}.jpg" for i in range(6)]
    assert all_coded(files) and not all_coded(files[:3]) and not all_coded([*files, tmp_path / "x.tif"])
    files[0].write_bytes(b"no")
    assert marks_of_file(files[0]) == ("f0.jpg", Searched())
