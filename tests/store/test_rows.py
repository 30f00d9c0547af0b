"""Rows read as they are asked for, and pictures written as they come, against whole files by another library."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile

from wetside.figures.finding import Unusable
from wetside.store.scans.laid import laid_in_rows
from wetside.store.scans.load import load
from wetside.store.scans.rows import scan_in_rows
from wetside.store.scans.sinks import write_picture
from wetside.store.scans.told import Told

SHAPE = 37, 23, 3
PIXELS = np.random.default_rng(2).integers(0, 65536, SHAPE, np.uint16)


@pytest.mark.independent(how="the pixels that were written, and the whole file as it is loaded")
def test_rows_of_a_plain_file_are_those_of_the_whole(tmp_path: Path) -> None:
    file = tmp_path / "a.tif"
    tifffile.imwrite(file, PIXELS, photometric="rgb", rowsperstrip=5)
    scan, whole = scan_in_rows(file, hashed=True), load(file)
    assert scan is not None and (scan.height, scan.width) == SHAPE[:2]
    assert (scan.sha256, scan.full_scale, scan.coding) == (whole.sha256, whole.full_scale, whole.coding)
    for rows in (slice(0, 9), slice(9, 18), slice(30, 99), slice(-1, None)):
        assert np.array_equal(scan.pixels[rows], PIXELS[rows])


@pytest.mark.parametrize(
    "how",
    [
        {"compression": "zlib"}, {"byteorder": ">"}, {"planarconfig": "separate"}, {"extratags": [(274, "H", 1, 6, True)]},
        {"iccprofile": b"x" * 200}, {"photometric": "minisblack"},
    ],
)  # fmt: skip
def test_any_other_file_is_loaded_whole(how: dict[str, Any], tmp_path: Path) -> None:
    file, pixels = tmp_path / "a.tif", PIXELS
    if how.get("planarconfig"):
        pixels = np.ascontiguousarray(PIXELS.transpose(2, 0, 1))
    tifffile.imwrite(file, pixels, **({"photometric": "rgb"} | how))
    assert scan_in_rows(file, hashed=False) is None


def test_a_file_that_may_be_broken_off_or_is_damaged_is_left_to_be_judged_whole(tmp_path: Path) -> None:
    file, blank = tmp_path / "a.tif", PIXELS.copy()
    blank[-9:] = 20000
    tifffile.imwrite(file, blank, photometric="rgb")
    assert scan_in_rows(file, hashed=False) is None
    file.write_bytes(file.read_bytes()[:-40])
    assert scan_in_rows(file, hashed=False) is None
    file.write_bytes(b"II*\0" + b"\xff" * 40)
    assert scan_in_rows(file, hashed=False) is None


def test_a_file_that_shrinks_while_it_is_read_is_one_line(tmp_path: Path) -> None:
    file = tmp_path / "a.tif"
    tifffile.imwrite(file, PIXELS, photometric="rgb")
    scan = scan_in_rows(file, hashed=False)
    assert scan is not None
    os.truncate(file, file.stat().st_size // 2)
    with pytest.raises(Unusable, match="cut off while it was read"):
        scan.pixels[30:37]


@pytest.mark.independent(how="the file by tifffile's own writer of whole pictures, byte by byte")
def test_a_picture_laid_row_by_row_is_the_file_written_whole(tmp_path: Path) -> None:
    told = Told("a.tif", "R01", 3, "Stock", "ECN-2", 200.0, "sRGB")
    for kind, suffix in (("tiff", ".tif"), ("jpeg", ".jpg"), ("dpx", ".dpx"), ("exr", ".exr")):
        dtype, space = (np.float32, "ACEScg") if kind == "exr" else (np.uint16, "sRGB")
        pixels = (PIXELS / 65535).astype(dtype) if kind == "exr" else PIXELS
        write_picture(tmp_path / f"whole{suffix}", pixels, kind, space, told)
        with laid_in_rows(tmp_path / f"rows{suffix}", kind, space, told, SHAPE, dtype) as lay:
            for top in range(0, SHAPE[0], 8):
                lay(pixels[top : top + 8])
            assert not (tmp_path / f"rows{suffix}").exists()
        assert (tmp_path / f"rows{suffix}").read_bytes() == (tmp_path / f"whole{suffix}").read_bytes()
    assert np.array_equal(tifffile.imread(tmp_path / "rows.tif"), PIXELS)
    with tifffile.TiffFile(tmp_path / "rows.tif") as laid:
        tags = [
            (t.code, t.dtype, t.count, t.value, True) for t in laid.pages[0].tags if t.code in (700, 34675)
        ]
        says = {"software": laid.pages[0].software, "description": laid.pages[0].description}
    tifffile.imwrite(tmp_path / "own.tif", PIXELS, photometric="rgb", extratags=tags, metadata=None, **says)
    assert (tmp_path / "own.tif").read_bytes() == (tmp_path / "rows.tif").read_bytes()
