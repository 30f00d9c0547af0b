"""Scan files: known light comes back as known density; damaged files are one line, never a traceback."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wetside.figures.finding import Unusable
from wetside.store.scans.arrays import write_arrays
from wetside.store.scans.folder import listing
from wetside.store.scans.load import load
from wetside.store.scans.originals import write_dng, write_inverted_jpeg, write_log_dpx, write_tiff16
from wetside.store.scans.recent import recent_arrays
from wetside.store.scans.sinks import write_picture


@pytest.fixture
def wedge() -> np.ndarray:
    """uint16 (40, 60, 3): ten steps of 0.15 D."""
    steps = np.repeat(10 ** (-0.15 * np.arange(10)), 6)
    return np.round(np.broadcast_to(steps[None, :, None], (40, 60, 3)) * 60000).astype(np.uint16)


@pytest.mark.independent(how="a raw file of known codes written by tifffile, read back through LibRaw")
def test_a_raw_file_gives_the_light_that_was_written(tmp_path: Path, wedge: np.ndarray) -> None:
    write_dng(tmp_path / "a.dng", wedge)
    scan = load(tmp_path / "a.dng")
    assert scan.coding == "linear" and scan.shrink == 2
    got = -np.log10(scan.pixels[20, 3::6].astype(float) / scan.full_scale)
    want = -np.log10(wedge[20, 3::6].astype(float) / 65535)
    assert np.abs(got - want).max() < 0.002


@pytest.mark.published(source="st-2065-3", place="10-bit codes: 500 D + 95; written through OpenImageIO")
def test_a_printing_density_file_is_turned_to_light(tmp_path: Path, wedge: np.ndarray) -> None:
    base = -np.log10(wedge[0, 0].astype(float) / 65535)
    write_log_dpx(tmp_path / "a.dpx", wedge, base)
    scan = load(tmp_path / "a.dpx")
    assert scan.coding == "log"
    assert np.allclose(-np.log10(scan.pixels[20, 3::6, 1]), 0.15 * np.arange(10), atol=0.0015)


def test_a_jpeg_never_counts_as_linear(tmp_path: Path, wedge: np.ndarray) -> None:
    write_inverted_jpeg(tmp_path / "a.jpg", wedge, np.zeros(3))
    assert load(tmp_path / "a.jpg").coding == "gamma"


def test_frames_are_taken_in_natural_order_and_lights_are_not_frames(
    tmp_path: Path, wedge: np.ndarray
) -> None:
    for name in ("f10.tif", "f2.tif", "f1.tif", "open_gate.tif", "dark.tif", "flat_1.tif"):
        write_tiff16(tmp_path / name, wedge)
    (tmp_path / "notes.txt").write_text("hello")
    found = listing(tmp_path)
    assert [path.name for path in found.frames] == ["f1.tif", "f2.tif", "f10.tif"]
    assert found.open_gate is not None and found.dark is not None and len(found.flats) == 1
    assert found.passed_over == ("notes.txt",)


def test_missing_and_empty_folders_are_one_line(tmp_path: Path) -> None:
    for folder in (tmp_path, tmp_path / "nowhere"):
        with pytest.raises(Unusable):
            listing(folder)


def test_an_image_bomb_is_refused_by_its_header(tmp_path: Path) -> None:
    header = tmp_path / "bomb.tif"
    tifffile.imwrite(header, np.zeros((8, 8, 3), np.uint16), photometric="rgb")
    with tifffile.TiffFile(header, mode="r+b") as tiff:
        tiff.pages[0].tags[256].overwrite(60000)
        tiff.pages[0].tags[257].overwrite(60000)
    with pytest.raises(Unusable, match="60000"):
        load(header)


@pytest.mark.parametrize("kind", ["tif", "dng", "dpx", "jpg", "exr", "png"])
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(data=st.data())
def test_damaged_files_are_a_line_or_a_scan(tmp_path: Path, wedge: np.ndarray, kind: str, data) -> None:
    good = tmp_path / f"good.{kind}"
    if not good.exists():
        _written(good, kind, wedge)
    content = bytearray(good.read_bytes())
    for _ in range(data.draw(st.integers(0, 6))):
        content[data.draw(st.integers(0, min(len(content), 600) - 1))] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(0, len(content)))
    bad = tmp_path / f"bad.{kind}"
    bad.write_bytes(bytes(content[: cut if data.draw(st.booleans()) else len(content)]))
    try:
        assert load(bad).pixels.ndim == 3
    except Unusable as slip:
        assert "\n" not in slip.what


def _written(path: Path, kind: str, wedge: np.ndarray) -> None:
    import cv2

    if kind == "tif":
        write_tiff16(path, wedge)
    elif kind == "dng":
        write_dng(path, wedge)
    elif kind == "dpx":
        write_log_dpx(path, wedge, np.zeros(3))
    elif kind == "exr":
        write_picture(path, wedge.astype(np.float32) / 65535, "exr", "ACEScg")
    else:
        cv2.imwrite(str(path), wedge if kind == "png" else (wedge >> 8).astype(np.uint8))


def test_a_header_whose_width_is_no_number_is_one_line(tmp_path: Path, wedge: np.ndarray) -> None:
    write_tiff16(tmp_path / "a.tif", wedge)
    content = bytearray((tmp_path / "a.tif").read_bytes())
    for at in range(10, 60):
        bad = tmp_path / "bad.tif"
        bad.write_bytes(bytes(content[:at]) + b"\0" + bytes(content[at + 1 :]))
        try:
            load(bad)
        except Unusable as slip:
            assert "\n" not in slip.what


def test_odd_files_are_handled(tmp_path: Path) -> None:
    tifffile.imwrite(tmp_path / "grey.tif", np.full((5, 5), 900, np.uint16))
    assert load(tmp_path / "grey.tif").findings[0].id == "single-channel"
    tifffile.imwrite(tmp_path / "one.tif", np.full((1, 1, 3), 900, np.uint16), photometric="rgb")
    assert load(tmp_path / "one.tif").pixels.shape == (1, 1, 3)
    values = np.full((5, 5, 3), 0.5, np.float32)
    values[0, 0, 0] = np.nan
    tifffile.imwrite(tmp_path / "nan.tif", values, photometric="rgb")
    assert load(tmp_path / "nan.tif").findings[0].id == "not-finite"


@pytest.mark.independent(how="what was written, and written anew")
def test_small_arrays_are_kept_while_their_file_stands_and_cannot_be_written_to(tmp_path: Path) -> None:
    place = tmp_path / "a.npz"
    assert recent_arrays(place) is None
    for level in (3, 4, 4_000):
        write_arrays(place, {"pixels": np.full((2, 2, level % 7 + 1), level)}, {"level": level})
        found, again = recent_arrays(place), recent_arrays(place)
        assert found is not None and found is again
        assert found[1] == {"level": level} and (found[0]["pixels"] == level).all()
        with pytest.raises(ValueError, match="read-only"):
            found[0]["pixels"][0] = 0
